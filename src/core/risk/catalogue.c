/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/risk/catalogue.h"

#define ROW(id) BK_EVIDENCE(id)
#define LINE(id, relation, quantity, row)                                                                    \
    {                                                                                                        \
        id, relation, quantity, BK_EVIDENCE(row), NULL, false                                                \
    }
#define ODDS(id, relation, quantity, row, odds)                                                              \
    {                                                                                                        \
        id, relation, quantity, BK_EVIDENCE(row), BK_EVIDENCE(odds), false                                   \
    }
#define FACT(id, fact)                                                                                       \
    {                                                                                                        \
        id, BK_IS, fact, NULL, NULL, false                                                                   \
    }
#define FACT_ODDS(id, fact, odds)                                                                            \
    {                                                                                                        \
        id, BK_IS, fact, NULL, BK_EVIDENCE(odds), false                                                      \
    }
#define BIT(n) (1u << (n))

#define RESOLVE_FACTORS                                                                                      \
    FACT("plaque_same_side", BK_FACT_PLAQUE_SAME), FACT("main_timi_below_3", BK_FACT_MAIN_FLOW_LOW),         \
        LINE("core_stenosis_50", BK_ABOVE, BK_Q_CORE_STENOSIS, "resolve_stenosis_line"),                     \
        LINE("angle_above_70", BK_ABOVE, BK_Q_DISTAL_SIDE_ANGLE, "resolve_angle_line"),                      \
        LINE("diameter_ratio_above_1", BK_ABOVE, BK_Q_DIAMETER_RATIO, "resolve_ratio_line"),                 \
        LINE("side_stenosis_50", BK_ABOVE, BK_Q_SIDE_STENOSIS, "resolve_stenosis_line")

const bk_model_entry bk_model_catalogue[] = {
    {.id = "cobis2",
     .head_row = ROW("cobis2_lost"),
     .events_row = ROW("cobis2_lost"),
     .lesions_row = ROW("cobis2_lesions"),
     .side_floor_row = ROW("cobis2_side_reference"),
     .factors = {ODDS("side_stenosis_50", BK_AT_LEAST, BK_Q_SIDE_STENOSIS, "cobis2_stenosis_line",
                      "cobis2_side_odds"),
                 ODDS("proximal_stenosis_50", BK_AT_LEAST, BK_Q_PROXIMAL_STENOSIS, "cobis2_stenosis_line",
                      "cobis2_proximal_odds"),
                 {"side_lesion_length_per_mm", BK_ABOVE, BK_Q_SIDE_LESION, NULL,
                  BK_EVIDENCE("cobis2_length_odds"), true},
                 FACT_ODDS("acute_coronary_syndrome", BK_FACT_ACS, "cobis2_acs_odds")}},
    {.id = "cobis3_side_60",
     .head_row = ROW("cobis3_side_60_unwired"),
     .sites = BK_NOT_LEFT_MAIN,
     .factors = {LINE("side_stenosis_60", BK_AT_LEAST, BK_Q_SIDE_STENOSIS, "cobis3_stenosis_line")},
     .strata = {{ROW("cobis3_side_60_unwired"), NULL, BIT(0), 0, true}}},
    {.id = "cobis3_main_60",
     .head_row = ROW("cobis3_main_60_unwired"),
     .sites = BK_NOT_LEFT_MAIN,
     .factors = {LINE("main_stenosis_60", BK_AT_LEAST, BK_Q_MAIN_STENOSIS, "cobis3_stenosis_line")},
     .strata = {{ROW("cobis3_main_60_unwired"), NULL, BIT(0), 0, true}}},
    {.id = "cobis3_all",
     .head_row = ROW("cobis3_all_unwired"),
     .sites = BK_NOT_LEFT_MAIN,
     .strata = {{ROW("cobis3_all_unwired"), NULL, 0, 0, true}}},
    {.id = "resolve",
     .head_row = ROW("resolve_lost"),
     .events_row = ROW("resolve_lost"),
     .lesions_row = ROW("resolve_lesions"),
     .sites = BK_NOT_LEFT_MAIN,
     .factors = {RESOLVE_FACTORS}},
    {.id = "v_resolve",
     .head_row = ROW("v_resolve_high"),
     .sites = BK_NOT_LEFT_MAIN,
     .factors = {FACT("points_12", BK_FACT_RESOLVE_HIGH), RESOLVE_FACTORS},
     .strata = {{ROW("v_resolve_high"), NULL, BIT(0), 0, false}, {ROW("v_resolve_low"), NULL, 0, BIT(0), false}}},
    {.id = "progress_angle",
     .head_row = ROW("progress_angle_below_45"),
     .factors = {LINE("angle_below_45", BK_BELOW, BK_Q_DISTAL_SIDE_ANGLE, "angle_narrow_line"),
                 LINE("angle_above_70", BK_ABOVE, BK_Q_DISTAL_SIDE_ANGLE, "angle_wide_line")},
     .strata = {{ROW("progress_angle_below_45"), NULL, BIT(0), 0, false},
                {ROW("progress_angle_between"), NULL, 0, BIT(0) | BIT(1), false},
                {ROW("progress_angle_above_70"), NULL, BIT(1), 0, false}}},
    {.id = "cosine_carina",
     .head_row = ROW("cosine_line"),
     .factors = {LINE("predicted_stenosis_70", BK_AT_LEAST, BK_Q_COSINE_STENOSIS, "cosine_line")}},
    {.id = "carina_follow_up",
     .head_row = ROW("vassilev_lost"),
     .factors = {LINE("parent_side_angle_below_40", BK_BELOW, BK_Q_PARENT_SIDE_ANGLE, "vassilev_angle_line"),
                 LINE("diameter_ratio_above_1_22", BK_ABOVE, BK_Q_DIAMETER_RATIO, "vassilev_ratio_line")}},
    {.id = "carina_angle",
     .head_row = ROW("carina_angle_lost"),
     .events_row = ROW("carina_angle_lost"),
     .lesions_row = ROW("carina_angle_lesions"),
     .factors = {LINE("carina_angle_33_7", BK_AT_MOST, BK_Q_DISTAL_SIDE_ANGLE, "carina_angle_line")}},
    {.id = "left_main",
     .head_row = ROW("left_main_lost"),
     .events_row = ROW("left_main_lost"),
     .lesions_row = ROW("left_main_lesions"),
     .sites = BK_ONLY_LEFT_MAIN,
     .factors = {FACT("plaque_same_side", BK_FACT_PLAQUE_SAME), FACT("diameter_ratio", BK_FACT_NEVER_ASKED),
                 FACT("side_stenosis", BK_FACT_NEVER_ASKED)}},
    {.id = "lad_series",
     .head_row = ROW("lad_lost"),
     .events_row = ROW("lad_lost"),
     .lesions_row = ROW("lad_lesions"),
     .sites = BK_ONLY_LAD,
     .factors = {ODDS("true_bifurcation", BK_AT_LEAST, BK_Q_TRUE_STENOSES, "true_stenosis_line",
                      "lad_true_odds"),
                 FACT("diameter_ratio", BK_FACT_NEVER_ASKED),
                 FACT_ODDS("v_resolve_score", BK_FACT_NEVER_ASKED, "lad_v_resolve_odds")}},
    {.id = "primary_intervention",
     .head_row = ROW("primary_lost"),
     .events_row = ROW("primary_lost"),
     .lesions_row = ROW("primary_lesions"),
     .side_floor_row = ROW("primary_side_reference"),
     .only_stemi = true,
     .factors = {FACT_ODDS("culprit_not_lad", BK_FACT_NOT_LAD, "primary_culprit_odds"),
                 FACT_ODDS("rentrop_2_or_3", BK_FACT_NEVER_ASKED, "primary_rentrop_odds")}},
    {.id = "stemi_small_branches",
     .head_row = ROW("stemi_small_lost"),
     .events_row = ROW("stemi_small_lost"),
     .lesions_row = ROW("stemi_small_lesions"),
     .only_stemi = true,
     .factors = {LINE("side_reference_1_4", BK_AT_MOST, BK_Q_SIDE_REFERENCE, "stemi_small_reference"),
                 LINE("side_stenosis_50", BK_ABOVE, BK_Q_SIDE_STENOSIS, "stemi_small_stenosis")}},
    {.id = "oct_score",
     .head_row = ROW("oct_side_diameter"),
     .factors = {LINE("side_diameter_1_77", BK_AT_MOST, BK_Q_SIDE_REFERENCE, "oct_side_diameter"),
                 FACT("branch_point_to_carina_tip", BK_FACT_NEVER_ASKED),
                 FACT("polygon_diameter", BK_FACT_NEVER_ASKED), FACT("parallel_type", BK_FACT_NEVER_ASKED)}},
    {.id = "definition",
     .head_row = ROW("definition_complex_rate"),
     .verdict = BK_VERDICT_DEFINITION,
     .factors = {LINE("true_bifurcation", BK_AT_LEAST, BK_Q_TRUE_STENOSES, "true_stenosis_line"),
                 LINE("side_stenosis_70", BK_AT_LEAST, BK_Q_SIDE_STENOSIS, "definition_side_left_main"),
                 LINE("side_stenosis_90", BK_AT_LEAST, BK_Q_SIDE_STENOSIS, "definition_side_other"),
                 LINE("side_lesion_10mm", BK_AT_LEAST, BK_Q_SIDE_LESION, "definition_side_length"),
                 FACT("calcium_moderate", BK_FACT_CALCIUM_MODERATE),
                 FACT("multiple_lesions", BK_FACT_MULTIPLE_LESIONS),
                 LINE("angle_below_45", BK_BELOW, BK_Q_DISTAL_SIDE_ANGLE, "angle_narrow_line"),
                 LINE("angle_above_70", BK_ABOVE, BK_Q_DISTAL_SIDE_ANGLE, "angle_wide_line"),
                 LINE("main_reference_below_2_5", BK_BELOW, BK_Q_MAIN_REFERENCE, "definition_main_reference"),
                 FACT("thrombus", BK_FACT_THROMBUS),
                 LINE("main_lesion_25mm", BK_AT_LEAST, BK_Q_MAIN_LESION, "definition_main_length")},
     .strata = {{ROW("definition_complex_rate"), ROW("definition_complex_lesions"), BIT(BK_VERDICT_BIT), 0,
                 false},
                {ROW("definition_simple_rate"), ROW("definition_simple_lesions"), 0, BIT(BK_VERDICT_BIT),
                 false}}},
    {.id = "bif_arc",
     .head_row = ROW("bif_arc_complex"),
     .verdict = BK_VERDICT_BIF_ARC,
     .factors = {LINE("true_bifurcation", BK_AT_LEAST, BK_Q_TRUE_STENOSES, "true_stenosis_line"),
                 LINE("side_lesion_10mm", BK_AT_LEAST, BK_Q_SIDE_LESION, "bif_arc_side_length"),
                 FACT("calcified", BK_FACT_CALCIFIED), FACT("thrombus", BK_FACT_THROMBUS),
                 FACT("access_difficult", BK_FACT_ACCESS_DIFFICULT),
                 LINE("access_angle_below_90", BK_BELOW, BK_Q_PROXIMAL_SIDE_ANGLE, "bif_arc_access_angle")}},
};
const size_t bk_model_catalogue_n = sizeof bk_model_catalogue / sizeof bk_model_catalogue[0];
