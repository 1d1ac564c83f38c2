/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The measured bifurcation: what `measure` knows before it is written as JSON. Definitions: contract, section
   "Definitions used everywhere"; docs/methods/bifurcation.md. */
#ifndef BK_CORE_ANATOMY_BIFURCATION_H
#define BK_CORE_ANATOMY_BIFURCATION_H

#include <stdbool.h>

#include "base/arena.h"
#include "base/qty.h"
#include "core/anatomy/branching.h"
#include "core/anatomy/corrections.h"
#include "core/image/curve.h"
#include "core/image/linear.h"
#include "core/image/lumen.h"
#include "core/limb.h"

typedef struct bk_measure_input {
    const bk_image *intensity;  /* from bk_image_from_stored */
    bk_grey grey;
    bk_pt_px click[BK_LIMBS]; /* one in each limb */
    double mm_per_px;           /* any positive value serves for ratios; sizes are right when it is */
    double psf_sigma_px;        /* blur of the file's own pixels; 0: from the scale */
    bool wire[BK_LIMBS];        /* a wire lies in that limb */
    bool lossy;                 /* the file was compressed with loss */
    double medina_threshold_pct;
    const bk_evidence_set *evidence;
    bk_branching_law law;       /* ties the references of the three limbs together */
    const bk_corrections *corrections; /* what a person says, checked; the swap is done already; NULL: nothing */
    const unsigned char *mask;  /* rows x cols, not 0 = not part of the picture; NULL: none */
} bk_measure_input;

typedef struct bk_segment {
    bk_qty reference_mm, reference_by_law_mm, mld_mm, stenosis_pct, area_stenosis_pct;
    bk_qty lesion_length_mm; /* absent when the limb has no lesion */
    bk_qty length_mm, ostial_mm;
    double mld_position_mm;
    double lesion_from_mm, lesion_to_mm; /* NaN without a lesion */
    double ostium_mm;                    /* position of the ostium: edge of the core */
    bool occluded;                       /* then mld_mm is 0, the profile and length_mm end where the lumen does */
    bool stump;                          /* occluded, but far enough from the core to be measured up to there */
    double refill_mm;                    /* where it fills again; NaN when it does not before the click */
    double seen_least_mm;                /* occluded: smallest lumen that would have been seen in the gap */
    bk_qty reference_fitted_mm;          /* what the limb itself shows, when the reference was forced; else absent */
    bool *drawn;                         /* n: an edge of this sample was drawn by hand; NULL: none was */
    double healthy_mm;                   /* summed length of vessel that the reference rests on */
    size_t n; /* profile samples, from the ostium to the click */
    double *position_mm, *diameter_mm, *sd_mm, *reference_at_mm;
    bk_pt_px *axis, *left, *right;
} bk_segment;

#define BK_MEDINA_WAYS 8
typedef struct bk_medina_way {
    int digits[BK_LIMBS];
    double probability_pct;
} bk_medina_way;

#define BK_MEASURE_WARNINGS_MAX 16
typedef struct bk_measure_warning {
    char code[32];
    char message[160];
} bk_measure_warning;

typedef struct bk_bifurcation {
    bk_segment segment[BK_LIMBS];
    bk_pt_px branch_point, branch_point_sd, carina;
    bk_pt_px core_centre;
    double core_radius_px;
    bk_qty core_diameter_mm, core_stenosis_pct;
    bk_qty distal_side_deg, proximal_side_deg, proximal_distal_deg;
    int medina[BK_LIMBS];
    bk_medina_way medina_way[BK_MEDINA_WAYS]; /* most probable first; those under 1 % are left out */
    int medina_ways_n;
    bool by_density; /* fitted in the intensity domain; else edges */
    double psf_px, contrast_per_mm, noise;
    bk_measure_warning warnings[BK_MEASURE_WARNINGS_MAX];
    size_t warnings_n;
} bk_bifurcation;

/** Add a warning, at most once per code. */
void bk_bifurcation_warn(bk_bifurcation *b, const char *code, const char *format, ...) BK_PRINTF(3, 4);

/**
 * Measure a bifurcation on one frame from three clicks.
 *
 * Errors: BK_E_USAGE a click outside the frame; BK_E_NOTHING no lumen joins the clicks, or two clicks lie on the
 *         same limb; BK_E_LIMIT the arena's cap.
 * Threads: pure; same input, same bits.
 */
bk_status bk_bifurcation_measure(const bk_measure_input *input, bk_arena *arena, bk_bifurcation *out,
                                 bk_err *err) BK_MUST_CHECK;

#endif
