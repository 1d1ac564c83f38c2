/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The bifurcation in space: what `rebuild` knows before it is written as JSON. Definitions: docs/methods/space.md. */
#ifndef BK_CORE_ANATOMY_SPACE_SOLID_H
#define BK_CORE_ANATOMY_SPACE_SOLID_H

#include "core/anatomy/space/curves.h"
#include "core/anatomy/space/section.h"

#define BK_SPACE_STEP_MM 0.5

typedef struct bk_space_limb {
    size_t n;                                         /* samples, BK_SPACE_STEP_MM of arc length apart, from the branch point */
    bk_vec *point;                                    /* mm */
    double *position_mm, *diameter_mm, *sd_mm, *minor_mm, *major_mm, *reference_mm;
    double ostium_mm, mld_position_mm, lesion_from_mm, lesion_to_mm; /* positions; NaN: none */
    bk_qty length_mm, reference_mm_at_mld, mld_mm, stenosis_pct, area_stenosis_pct, lesion_length_mm;
    double area_stenosis_band_pct[2];                 /* 90 %, if the lumen is less round than it looks */
    double foreshortening_pct[BK_SIGHTS_MAX];
    double disagreement;                              /* of the widths at the MLD, in SD; 0: none, or one view */
    bool occluded;
} bk_space_limb;

typedef struct bk_space_solid {
    bk_space_limb limb[BK_LIMBS];
    bk_qty distal_side_deg, proximal_side_deg, proximal_distal_deg;
    bk_space_fit fit;
    double view_separation_deg;
    double scale_sd; /* relative, of all sizes alike: the part of the shift that does not show moves the rays' crossing */
    double spread_deg; /* around the vessel, at the narrowest MLD: what decides between circle and ellipse */
} bk_space_solid;

/**
 * Fit the axes, section the lumen and take the numbers. SDs of lengths and diameters hold scale_sd; those of the lists do not. Limbs end where the first of the views that show them ends.
 * Errors: those of bk_space_fit_limbs. Threads: pure.
 */
bk_status bk_space_solid_new(const bk_sight *sight, size_t views, const bk_space_options *options, bk_arena *arena,
                             bk_space_solid *out, bk_err *err) BK_MUST_CHECK;

#endif
