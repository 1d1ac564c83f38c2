/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Field tables of the anatomy as entered, of pressure wires and of intravascular imaging. */
#include "core/case/case.h"

const char *const bk_stage_words[] = {"", "baseline", "predilated", "stented", "final", "other", NULL};

static const char *const site_words[] = {"",      "left_main", "lad_diagonal", "lcx_marginal", "rca_crux",
                                         "other", NULL};
static const char *const dominance_words[] = {"unknown", "right", "left", "balanced", NULL};
static const char *const context_words[] = {"", "de_novo", "in_stent", "cto", "graft_anastomosis", NULL};
static const char *const plaque_words[] = {"unknown", "same", "opposite", "both", "none", NULL};
static const char *const calcium_words[] = {"unknown", "none", "mild", "moderate", "severe", "nodule", NULL};
static const char *const collateral_words[] = {"unknown", "none", "receives", "donates", NULL};

const bk_field bk_limb_fields[] = {
    {BK_ROW_TEXT(bk_limb_input, vessel, "name of the vessel")},
    {BK_ROW_QTY(bk_limb_input, reference_mm, "mm", 0.5, 12, BK_VISUAL,
                "healthy lumen diameter expected at the narrowest place")},
    {BK_ROW_QTY(bk_limb_input, mld_mm, "mm", 0, 12, BK_VISUAL,
                "smallest lumen diameter outside the core; 0: occluded"),
     .one_of = "lumen"},
    {BK_ROW_QTY(bk_limb_input, stenosis_pct, "%", 0, 100, BK_VISUAL, "diameter stenosis, instead of mld_mm"),
     .one_of = "lumen"},
    {BK_ROW_QTY(bk_limb_input, lesion_length_mm, "mm", 0, 150, BK_VISUAL,
                "length of the lesion in this limb")},
    {BK_ROW_QTY(bk_limb_input, length_mm, "mm", 0, 200, BK_VISUAL,
                "length from the branch point to the end measured")},
    {BK_ROW_QTY(bk_limb_input, vessel_length_mm, "mm", 0, 300, BK_VISUAL,
                "length from the ostium to the last visible end")},
    {BK_ROW_INTEGER(bk_limb_input, timi, 0, 3, "TIMI flow grade"), .source = "TIMI flow grade, 0 to 3"},
    {BK_ROW_INTEGER(bk_limb_input, stent_layers, 0, 5, "stent layers already in this limb")},
    {BK_ROW_TRI(bk_limb_input, occluded, "totally occluded")},
    {0},
};

static const bk_field segment_fields[] = {
    {BK_ROW_OBJECT(bk_segments_input, proximal, bk_limb_input, bk_limb_fields, "proximal main vessel")},
    {BK_ROW_OBJECT(bk_segments_input, distal, bk_limb_input, bk_limb_fields, "distal main vessel")},
    {BK_ROW_OBJECT(bk_segments_input, side, bk_limb_input, bk_limb_fields, "side branch")},
    {0},
};

static const bk_field angle_fields[] = {
    {BK_ROW_QTY(bk_angles_input, distal_side_deg, "deg", 0, 180, BK_VISUAL,
                "between distal main vessel and side branch")},
    {BK_ROW_QTY(bk_angles_input, proximal_side_deg, "deg", 0, 180, BK_VISUAL,
                "between proximal main vessel and side branch")},
    {0},
};

const bk_field bk_anatomy_fields[] = {
    {BK_ROW_CHOICE(bk_anatomy_input, site, site_words, "which bifurcation")},
    {BK_ROW_CHOICE(bk_anatomy_input, dominance, dominance_words, "coronary dominance")},
    {BK_ROW_CHOICE(bk_anatomy_input, context, context_words,
                   "native vessel, in a stent, chronic occlusion, graft")},
    {BK_ROW_OBJECT(bk_anatomy_input, segments, bk_segments_input, segment_fields, "the three limbs")},
    {BK_ROW_MAYBE(bk_anatomy_input, extra_limb, bk_limb_input, bk_limb_fields,
                  "fourth limb of a trifurcation")},
    {BK_ROW_QTY(bk_anatomy_input, core_stenosis_pct, "%", 0, 100, BK_VISUAL,
                "diameter stenosis of the core")},
    {BK_ROW_REAL(bk_anatomy_input, calibration_sd_pct, "%", 0, 50,
                 "SD of the one scale factor shared by all measured lengths")},
    {BK_ROW_OBJECT(bk_anatomy_input, angles, bk_angles_input, angle_fields, "angles")},
    {BK_ROW_CHOICE(bk_anatomy_input, plaque_side, plaque_words,
                   "side of the main vessel's plaque, seen from the side branch")},
    {BK_ROW_INTEGER(bk_anatomy_input, thrombus_grade, 0, 5, "TIMI thrombus grade"),
     .source = "TIMI thrombus grade, 0 to 5"},
    {BK_ROW_CHOICE(bk_anatomy_input, calcium, calcium_words, "calcium")},
    {BK_ROW_TRI(bk_anatomy_input, ulcerated, "ulcerated plaque")},
    {BK_ROW_CHOICE(bk_anatomy_input, collaterals, collateral_words, "collaterals of the side branch")},
    {BK_ROW_TRI(bk_anatomy_input, viable, "viable muscle behind the side branch")},
    {BK_ROW_TRI(bk_anatomy_input, last_patent_vessel, "the lesion is in the last patent vessel")},
    {0},
};

static const char *const limb_words[] = {"", "proximal", "distal", "side", "extra", NULL};
static const char *const index_words[] = {"", "ffr", "resting_ratio", NULL};

const bk_field bk_physiology_fields[] = {
    {BK_ROW_CHOICE(bk_physiology, limb, limb_words, "limb in which the wire stood")},
    {BK_ROW_CHOICE(bk_physiology, stage, bk_stage_words, "stage of the procedure")},
    {BK_ROW_CHOICE(bk_physiology, index, index_words, "fractional flow reserve or a resting ratio")},
    {BK_ROW_QTY(bk_physiology, value, "1", 0, 1.2, BK_MEASURED, "the value read")},
    {BK_ROW_QTY(bk_physiology, drift, "1", -0.3, 0.3, BK_MEASURED, "drift found on pull-back")},
    {0},
};

static const char *const mode_words[] = {"", "oct", "ivus", NULL};
static const char *const cell_words[] = {"unknown", "distal", "proximal", NULL};

const bk_field bk_imaging_fields[] = {
    {BK_ROW_CHOICE(bk_imaging, mode, mode_words, "optical coherence tomography or ultrasound")},
    {BK_ROW_CHOICE(bk_imaging, stage, bk_stage_words, "stage of the procedure")},
    {BK_ROW_CHOICE(bk_imaging, limb, limb_words, "limb imaged")},
    {BK_ROW_QTY(bk_imaging, lumen_area_mm2, "mm2", 0, 60, BK_MEASURED, "smallest lumen area")},
    {BK_ROW_QTY(bk_imaging, reference_area_mm2, "mm2", 0, 60, BK_MEASURED, "lumen area at the reference")},
    {BK_ROW_QTY(bk_imaging, vessel_area_mm2, "mm2", 0, 80, BK_MEASURED, "vessel area at the reference")},
    {BK_ROW_QTY(bk_imaging, msa_mm2, "mm2", 0, 60, BK_MEASURED, "minimal stent area")},
    {BK_ROW_INTEGER(bk_imaging, calcium_score, 0, 4, "calcium score of the mode"),
     .source = "OCT calcium score, Fujino 2018"},
    {BK_ROW_TEXT(bk_imaging, edge, "finding at the stent edge")},
    {BK_ROW_CHOICE(bk_imaging, recross_cell, cell_words, "cell through which the wire re-crossed")},
    {0},
};
