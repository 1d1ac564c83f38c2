/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Field tables of what came after: injury and result. x = multiples of the assay's own limit. */
#include "core/case/case.h"

static const char *const course_words[] = {"", "normal", "stable", "falling", "rising", NULL};
static const char *const dissection_words[] = {"", "none", "A", "B", "C", "D", "E", "F", NULL};

#define MULTIPLE_MAX 1e5
#define TIMI_SOURCE "TIMI flow grade, 0 to 3"
#define DISSECTION_SOURCE "NHLBI dissection types A to F"

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
    {0},
};

static const bk_field limb_result_fields[] = {
    {BK_ROW_INTEGER(bk_limb_result, timi, 0, 3, "flow at the end"), .source = TIMI_SOURCE},
    {BK_ROW_QTY(bk_limb_result, stenosis_pct, "%", 0, 100, BK_VISUAL, "residual diameter stenosis")},
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
    {BK_ROW_TRI(bk_result_input, revascularisation, "renewed revascularisation in hospital")},
    {0},
};
