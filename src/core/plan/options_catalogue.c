/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/options_catalogue.h"

#define ROW(id) BK_EVIDENCE(id)
#define WHEN(id, row, relation, quantity)                                                                    \
    {                                                                                                        \
        id, BK_EVIDENCE(row), relation, quantity, false                                                      \
    }
#define COMPLEX                                                                                              \
    {                                                                                                        \
        "complex_by_definition", BK_EVIDENCE("definition2_hazard"), BK_IS, BK_FACT_NEVER_ASKED, true         \
    }
#define SIDE_LESION_SHORT WHEN("side_lesion_below_10mm", "provisional_side_lesion", BK_BELOW, BK_Q_SIDE_LESION)
#define SIDE_LESION_LONG WHEN("side_lesion_10mm", "provisional_side_lesion", BK_AT_LEAST, BK_Q_SIDE_LESION)
#define WIDE WHEN("angle_above_70", "bailout_tap_angle", BK_ABOVE, BK_Q_DISTAL_SIDE_ANGLE)
#define NARROW WHEN("angle_below_70", "bailout_culotte_angle", BK_BELOW, BK_Q_DISTAL_SIDE_ANGLE)
#define TWO_STENTS_FOR                                                                                       \
    ROW("definition2_hazard"), ROW("definition2_three_years"), ROW("definition_two_stents_complex"),         \
        ROW("nordic4_hazard"), ROW("up_front_two_stents")
#define TWO_STENTS_AGAINST                                                                                   \
    ROW("definition_two_stents_simple"), ROW("definition_two_stents_simple_thrombosis"), ROW("ebc_main_hazard")

const bk_option_entry bk_option_catalogue[BK_STRATEGIES] = {
    [BK_PROVISIONAL] = {"provisional stenting without a wire in the side branch",
                        ROW("guide_provisional"),
                        {WHEN("side_below_60", "cobis3_stenosis_line", BK_BELOW, BK_Q_SIDE_STENOSIS),
                         WHEN("main_below_60", "cobis3_stenosis_line", BK_BELOW, BK_Q_MAIN_STENOSIS),
                         SIDE_LESION_SHORT},
                        {ROW("cobis3_failure"), ROW("cabriolet_policy_none"), ROW("definition_two_stents_simple")},
                        {ROW("cobis3_side_60_odds"), ROW("cobis3_main_60_odds"), ROW("jailed_wire_recovery"),
                         ROW("definition2_hazard")}},
    [BK_PROVISIONAL_WIRE] = {"provisional stenting with a jailed wire",
                             ROW("guide_provisional"),
                             {WHEN("side_ref_2mm", "relevant_side_reference", BK_AT_LEAST, BK_Q_SIDE_REFERENCE),
                              WHEN("main_or_side_60", "cobis3_stenosis_line", BK_AT_LEAST, BK_Q_ANY_STENOSIS),
                              SIDE_LESION_SHORT},
                             {ROW("cobis3_side_60_odds"), ROW("cobis3_main_60_odds"), ROW("jailed_wire_recovery"),
                              ROW("definition_two_stents_simple"), ROW("ebc_main_hazard")},
                             {ROW("cobis3_failure"), ROW("cabriolet_wired"), ROW("cabriolet_policy_wire"),
                              ROW("harm_dissection"), ROW("harm_damage_plain"), ROW("definition2_hazard")}},
    [BK_JAILED_BALLOON] = {"provisional stenting with a jailed balloon",
                           ROW("guide_jailed_balloon"),
                           {WHEN("side_ref_from_2mm", "jailed_small_low", BK_AT_LEAST, BK_Q_SIDE_REFERENCE),
                            WHEN("side_ref_below_2_5mm", "jailed_small_high", BK_BELOW, BK_Q_SIDE_REFERENCE),
                            WHEN("v_resolve_12_points", "v_resolve_line", BK_IS, BK_FACT_RESOLVE_HIGH)},
                           {ROW("jailed_balloon_lost"), ROW("jailed_balloon_mi"), ROW("cit_resolve_active"),
                            ROW("jailed_balloon_modified"), ROW("jailed_balloon_small_trial")},
                           {ROW("jailed_balloon_dissent"), ROW("jailed_balloon_year"), ROW("jailed_balloon_entrapped"),
                            ROW("jailed_balloon_compromise"), ROW("jailed_balloon_oct")}},
    [BK_KISSING_PREDILATATION] = {"provisional stenting after kissing predilatation",
                                  ROW("guide_provisional"),
                                  {WHEN("true_bifurcation", "kissing_predilatation_when", BK_AT_LEAST,
                                        BK_Q_TRUE_STENOSES)},
                                  {ROW("kissing_predilatation_trouble"), ROW("jailing_predictors")},
                                  {NULL}},
    [BK_INVERTED] = {"inverted provisional: the side branch is the stent's axis",
                     ROW("guide_provisional"),
                     {WHEN("side_not_smaller", "inverted_side_larger", BK_AT_LEAST, BK_Q_SIDE_OVER_DISTAL),
                      WHEN("distal_below_50", "inverted_distal_open", BK_BELOW, BK_Q_DISTAL_STENOSIS)},
                     {NULL},
                     {NULL}},
    [BK_SINGLE_LIMB] = {"one limb only",
                        ROW("guide_provisional"),
                        {WHEN("one_limb_diseased", "true_stenosis_line", BK_AT_LEAST, BK_Q_LARGEST_LIMB),
                         WHEN("others_below_50", "true_stenosis_line", BK_BELOW, BK_Q_SECOND_LIMB)},
                        {NULL},
                        {NULL}},
    [BK_DCB_SIDE] = {"main stent, drug-coated balloon to the side branch",
                     ROW("guide_provisional"),
                     {WHEN("side_50", "dcb_side_stenosis", BK_AT_LEAST, BK_Q_SIDE_STENOSIS)},
                     {NULL},
                     {NULL}},
    [BK_T] = {"two stents: T",
              ROW("guide_two_stents_one_by_one"),
              {COMPLEX, SIDE_LESION_LONG, WIDE},
              {TWO_STENTS_FOR},
              {TWO_STENTS_AGAINST, ROW("t_narrow_angle")}},
    [BK_TAP] = {"two stents: T and protrusion",
                ROW("guide_tap"),
                {COMPLEX, SIDE_LESION_LONG, WIDE},
                {TWO_STENTS_FOR},
                {TWO_STENTS_AGAINST}},
    [BK_CULOTTE] = {"two stents: culotte",
                    ROW("guide_two_stents_one_by_one"),
                    {COMPLEX, SIDE_LESION_LONG, NARROW},
                    {TWO_STENTS_FOR},
                    {TWO_STENTS_AGAINST, ROW("culotte_mismatch"), ROW("t_narrow_angle")}},
    [BK_DK_CULOTTE] = {"two stents: double-kissing culotte",
                       ROW("guide_two_stents_one_by_one"),
                       {COMPLEX, SIDE_LESION_LONG, NARROW},
                       {TWO_STENTS_FOR, ROW("dk_culotte_bench")},
                       {TWO_STENTS_AGAINST, ROW("culotte_mismatch")}},
    [BK_DK_CRUSH] = {"two stents: double-kissing crush",
                     ROW("guide_two_stents_one_by_one"),
                     {COMPLEX, SIDE_LESION_LONG,
                      WHEN("side_ref_2_5mm", "dk_crush_side", BK_AT_LEAST, BK_Q_SIDE_REFERENCE)},
                     {TWO_STENTS_FOR, ROW("dk_crush_kissing")},
                     {TWO_STENTS_AGAINST}},
};

const bk_loss_arm bk_loss_arms[] = {
    {BK_PROVISIONAL, "cobis3_side_60", false},
    {BK_PROVISIONAL, "cobis3_main_60", false},
    {BK_PROVISIONAL, "cobis3_all", false},
    {BK_PROVISIONAL, "cabriolet", false},
    {BK_PROVISIONAL, "practice_60_60", false},
    {BK_PROVISIONAL_WIRE, "cobis3_side_60", true},
    {BK_PROVISIONAL_WIRE, "cobis3_main_60", true},
    {BK_PROVISIONAL_WIRE, "cobis3_all", true},
    {BK_PROVISIONAL_WIRE, "cabriolet", true},
    {BK_PROVISIONAL_WIRE, "jailed_balloon_loss", false},
    {BK_PROVISIONAL_WIRE, "active_protection", false},
    {BK_PROVISIONAL_WIRE, "practice_60_60", true},
    {BK_JAILED_BALLOON, "jailed_balloon_loss", true},
    {BK_JAILED_BALLOON, "jailed_balloon_small_trial", true},
    {BK_JAILED_BALLOON, "active_protection", true},
    {BK_KISSING_PREDILATATION, "kissing_predilatation", true},
    {BK_T, "active_protection", true},
    {BK_TAP, "active_protection", true},
    {BK_CULOTTE, "active_protection", true},
    {BK_DK_CULOTTE, "active_protection", true},
    {BK_DK_CRUSH, "active_protection", true},
    {0},
};
