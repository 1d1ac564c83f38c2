/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a perfect reader would measure in one view, worked out from the geometry alone.
   Positions are arc lengths of the projected lumen axis from the branch point, each step in mm at its own
   depth. */
#ifndef BK_PHANTOM_TRUTH_H
#define BK_PHANTOM_TRUTH_H

#include "phantom/outline.h"
#include "phantom/scene.h"

typedef struct ph_limb_truth {
    size_t n; /* samples, every PH_TUBE_STEP_MM in space from the branch to the click */
    double *position_mm, *space_mm, *x_px, *y_px;
    double *width_mm; /* seen across the axis */
    double *area_mm;  /* diameter of the circle with the section's area */
    double *reference_mm, *mm_per_px;
    double ostium_mm; /* position where the axis leaves the core */
    double ostial_mm; /* width there */
    double mld_mm, mld_at_mm, mld_reference_mm,
        mld_mm_per_px;                     /* least mean width over 0.5 mm outside the core */
    double area_mld_mm, area_reference_mm; /* the same for area-equivalent diameters */
    double lesion_mm[2]; /* where the width is under 90 % of the reference, around the MLD; NaN: nowhere */
    double length_mm, length_space_mm, foreshortening_pct;
} ph_limb_truth;

typedef struct ph_view_truth {
    ph_px branch_px, carina_px;
    double mm_per_px, mm_per_px_isocentre;
    ph_core core, healthy_core;
    double distal_side_deg, proximal_side_deg, proximal_distal_deg;
    ph_limb_truth limb[BK_PHANTOM_LIMBS];
} ph_view_truth;

bk_status ph_truth_of_view(const ph_scene *scene, int view, bk_arena *arena, ph_view_truth *out,
                           bk_err *err) BK_MUST_CHECK;

/** 100 (1 - lumen / reference) */
double ph_truth_stenosis_pct(double lumen_mm, double reference_mm);

/** Medina digit of a limb at 50 %, from area-equivalent diameters. */
int ph_truth_medina(const ph_limb_truth *limb);

/** Every lesion's throat lies outside the core, and the Medina digits are those asked for. */
bool ph_truth_is_as_made(const ph_scene *scene, const ph_view_truth *truth);

/** Write the document. */
bk_json *ph_truth_document(const ph_scene *scene, const ph_view_truth *views, bk_json *options);

#endif
