/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Field tables of what came after: injury and result. x = multiples of the assay's own limit. */
#include "core/case/case.h"

static const char *const course_words[] = {"", "normal", "stable", "falling", "rising", NULL};
static const char *const dissection_words[] = {"", "none", "A", "B", "C", "D", "E", "F", NULL};

#define MULTIPLE_MAX 1e5
#define TIMI_SOURCE "TIMI flow grade, 0 to 3"
#define DISSECTION_SOURCE "NHLBI dissection types A to F"

static const char *const fatal_words[] = {"", "no", "probable", "definite", NULL};
static const char *const stent_words[] = {"", "main", "side", NULL};

static const bk_field kidney_fields[] = {
    {BK_ROW_QTY(bk_kidney_after, creatinine_mg_dl, "mg/dL", 0.2, 20, BK_ENTERED, "highest creatinine after"),
     .one_of = "creatinine", .hint = "a value in umol/L belongs in creatinine_umol_l", .other_unit = "umol/L",
     .per_other = 1 / 88.4},
    {BK_ROW_QTY(bk_kidney_after, creatinine_umol_l, "umol/L", 18, 1770, BK_ENTERED, "highest creatinine after"),
     .one_of = "creatinine", .hint = "a value in mg/dL belongs in creatinine_mg_dl", .other_unit = "mg/dL",
     .per_other = 88.4},
    {BK_ROW_QTY(bk_kidney_after, creatinine_hours, "h", 0, 720, BK_ENTERED, "hours from the procedure to that sample")},
    {BK_ROW_QTY(bk_kidney_after, urine_ml_kg_h, "mL/kg/h", 0, 20, BK_ENTERED, "lowest urine output over a stretch")},
    {BK_ROW_QTY(bk_kidney_after, urine_hours, "h", 0, 720, BK_ENTERED, "how long that stretch was")},
    {BK_ROW_TRI(bk_kidney_after, renal_replacement, "renal replacement was begun")},
    {0},
};

static const bk_field bleeding_fields[] = {
    {BK_ROW_TRI(bk_bleeding_after, overt, "overt bleeding")},
    {BK_ROW_TRI(bk_bleeding_after, actionable, "it led to treatment, more care or evaluation")},
    {BK_ROW_TRI(bk_bleeding_after, tamponade, "tamponade")},
    {BK_ROW_TRI(bk_bleeding_after, surgery_for_control, "surgery to control it, not dental, nasal, skin or haemorrhoid")},
    {BK_ROW_TRI(bk_bleeding_after, vasoactive_drugs, "intravenous vasoactive drugs because of it")},
    {BK_ROW_TRI(bk_bleeding_after, intracranial, "intracranial or intraspinal")},
    {BK_ROW_TRI(bk_bleeding_after, intraocular, "intraocular, compromising vision")},
    {BK_ROW_TRI(bk_bleeding_after, bypass_related, "related to bypass surgery")},
    {BK_ROW_CHOICE(bk_bleeding_after, fatal, fatal_words, "fatal bleeding")},
    {BK_ROW_QTY(bk_bleeding_after, haemoglobin_drop_g_dl, "g/dL", 0, 20, BK_ENTERED,
                "fall of haemoglobin as measured, not corrected for transfusion"),
     .hint = "a fall in g/L is ten times that in g/dL"},
    {BK_ROW_INTEGER(bk_bleeding_after, transfused_units, 0, 100, "units of red cells")},
    {0},
};

static const bk_field thrombosis_fields[] = {
    {BK_ROW_TRI(bk_thrombosis_after, thrombus_by_angiography, "thrombus in the stent or within 5 mm, by angiography")},
    {BK_ROW_TRI(bk_thrombosis_after, acute_ischaemia,
                "within 48 h: symptoms at rest, new ischaemic ECG, or typical rise and fall of biomarkers")},
    {BK_ROW_TRI(bk_thrombosis_after, thrombus_by_pathology, "shown by autopsy or in tissue")},
    {BK_ROW_TRI(bk_thrombosis_after, unexplained_death, "unexplained death")},
    {BK_ROW_TRI(bk_thrombosis_after, infarction_in_territory,
                "infarction in the stent's territory, without angiographic proof or another cause")},
    {BK_ROW_QTY(bk_thrombosis_after, hours_after, "h", 0, 2e5, BK_ENTERED, "hours from the end of the procedure")},
    {BK_ROW_CHOICE(bk_thrombosis_after, stent, stent_words, "which stent: main vessel or side branch")},
    {0},
};

const bk_field bk_injury_fields[] = {
    {BK_ROW_QTY(bk_injury_input, troponin_baseline_x, "x", 0, MULTIPLE_MAX, BK_ENTERED,
                "troponin before, in multiples of its 99th percentile")},
    {BK_ROW_QTY(bk_injury_input, troponin_peak_x, "x", 0, MULTIPLE_MAX, BK_ENTERED,
                "highest troponin after, in multiples of its 99th percentile")},
    {BK_ROW_CHOICE(bk_injury_input, baseline_course, course_words,
                   "course of troponin before the procedure")},
    {BK_ROW_QTY(bk_injury_input, ckmb_baseline_x, "x", 0, MULTIPLE_MAX, BK_ENTERED,
                "CK-MB before, in multiples of its upper limit")},
    {BK_ROW_QTY(bk_injury_input, ckmb_peak_x, "x", 0, MULTIPLE_MAX, BK_ENTERED,
                "highest CK-MB after, in multiples of its upper limit")},
    {BK_ROW_TRI(bk_injury_input, new_q_waves, "new pathological Q waves")},
    {BK_ROW_TRI(bk_injury_input, new_lbbb, "new persistent left bundle branch block")},
    {BK_ROW_TRI(bk_injury_input, ecg_ischaemia, "new ischaemic ECG changes")},
    {BK_ROW_QTY(bk_injury_input, st_shift_mm, "mm", -20, 20, BK_ENTERED,
                "largest new ST shift, depression negative")},
    {BK_ROW_TRI(bk_injury_input, imaging_loss, "imaging shows new loss of viable muscle")},
    {BK_ROW_TRI(bk_injury_input, side_branch_occluded, "a side branch was occluded")},
    {BK_ROW_QTY(bk_injury_input, side_branch_reference_mm, "mm", 0.5, 12, BK_VISUAL,
                "reference diameter of that side branch")},
    {BK_ROW_INTEGER(bk_injury_input, side_branch_timi_before, 0, 3, "its flow before"),
     .source = TIMI_SOURCE},
    {BK_ROW_INTEGER(bk_injury_input, side_branch_timi_after_stent, 0, 3,
                    "its flow right after the main stent"),
     .source = TIMI_SOURCE},
    {BK_ROW_INTEGER(bk_injury_input, side_branch_timi_final, 0, 3, "its flow at the end"),
     .source = TIMI_SOURCE},
    {BK_ROW_QTY(bk_injury_input, occlusion_minutes, "min", 0, 1440, BK_ENTERED, "how long it was closed")},
    {BK_ROW_CHOICE(bk_injury_input, dissection_grade, dissection_words, "worst dissection left"),
     .source = DISSECTION_SOURCE},
    {BK_ROW_TRI(bk_injury_input, flow_limiting_complication, "angiographic complication that limits flow")},
    {BK_ROW_TRI(bk_injury_input, heart_failure_or_hypotension,
                "new or worse heart failure, or sustained hypotension")},
    {BK_ROW_QTY(bk_injury_input, hours_after, "h", 0, 720, BK_ENTERED,
                "hours from the procedure to the peak sample")},
    {BK_ROW_OBJECT(bk_injury_input, kidney, bk_kidney_after, kidney_fields, "the kidney after contrast")},
    {BK_ROW_OBJECT(bk_injury_input, bleeding, bk_bleeding_after, bleeding_fields, "bleeding")},
    {BK_ROW_OBJECT(bk_injury_input, thrombosis, bk_thrombosis_after, thrombosis_fields, "stent thrombosis")},
    {0},
};

static const char *const treatment_words[] = {"", "stent", "balloon", "none", NULL};

static const bk_field limb_result_fields[] = {
    {BK_ROW_INTEGER(bk_limb_result, timi, 0, 3, "flow at the end"), .source = TIMI_SOURCE},
    {BK_ROW_CHOICE(bk_limb_result, treatment, treatment_words, "what this limb was treated with")},
    {BK_ROW_QTY(bk_limb_result, stenosis_pct, "%", 0, 100, BK_VISUAL, "residual diameter stenosis")},
    {BK_ROW_QTY(bk_limb_result, ostium_stenosis_pct, "%", 0, 100, BK_VISUAL,
                "residual diameter stenosis at the ostium")},
    {BK_ROW_QTY(bk_limb_result, edge_dissection_deg, "deg", 0, 360, BK_MEASURED,
                "arc of a dissection at the stent's edge, by imaging; 0: none")},
    {BK_ROW_QTY(bk_limb_result, edge_plaque_pct, "%", 0, 100, BK_MEASURED,
                "plaque burden at the stent's edge, by imaging")},
    {0},
};

static const bk_field segment_result_fields[] = {
    {BK_ROW_OBJECT(bk_segments_result, proximal, bk_limb_result, limb_result_fields, "proximal main vessel")},
    {BK_ROW_OBJECT(bk_segments_result, distal, bk_limb_result, limb_result_fields, "distal main vessel")},
    {BK_ROW_OBJECT(bk_segments_result, side, bk_limb_result, limb_result_fields, "side branch")},
    {0},
};

const bk_field bk_result_fields[] = {
    {BK_ROW_OBJECT(bk_result_input, segments, bk_segments_result, segment_result_fields,
                   "the three limbs at the end")},
    {BK_ROW_CHOICE(bk_result_input, dissection_grade, dissection_words, "worst dissection left"),
     .source = DISSECTION_SOURCE},
    {BK_ROW_TRI(bk_result_input, wires_out, "all wires came out whole")},
    {BK_ROW_TRI(bk_result_input, death, "death in hospital")},
    {BK_ROW_TRI(bk_result_input, infarction, "infarction in hospital")},
    {BK_ROW_TRI(bk_result_input, revascularisation, "renewed revascularisation of the bifurcation in hospital")},
    {BK_ROW_TRI(bk_result_input, stroke, "stroke in hospital")},
    {BK_ROW_TRI(bk_result_input, bypass_surgery, "emergency bypass operation")},
    {0},
};
