/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <string.h>

#include "core/plan/options.h"
#include "core/risk/resolve.h"

static bk_risk_inputs nothing(void)
{
    bk_risk_inputs in = {.scale_sd_pct = (double)NAN, .trifurcation = BK_NO};
    for (int i = 0; i < BK_RISK_INPUTS; i++)
        in.fact[i] = (bk_fact){bk_qty_absent(), BK_FROM_NOWHERE};
    return in;
}

static void exact(bk_risk_inputs *in, bk_risk_input input, double value)
{
    in->fact[input] = (bk_fact){bk_qty_of(value, (double)NAN, BK_ENTERED), BK_FROM_ANATOMY};
}

/* Stenoses of proximal, distal and side branch; the core free. */
static bk_risk_inputs stenoses(double proximal, double distal, double side)
{
    bk_risk_inputs in = nothing();
    exact(&in, BK_IN_PROXIMAL_STENOSIS, proximal);
    exact(&in, BK_IN_DISTAL_STENOSIS, distal);
    exact(&in, BK_IN_CORE_STENOSIS, 0);
    exact(&in, BK_IN_SIDE_STENOSIS, side);
    exact(&in, BK_IN_SIDE_REFERENCE, 2.5);
    exact(&in, BK_IN_DISTAL_REFERENCE, 3.0);
    exact(&in, BK_IN_PROXIMAL_REFERENCE, 3.7);
    return in;
}

static void all(const bk_risk_inputs *in, bk_option out[BK_OPTIONS])
{
    bk_options_of(in, (bk_sampling){200, 1}, bk_evidence_builtin(), out);
}

static const bk_option *option(const bk_option options[BK_OPTIONS], enum bk_strategy strategy)
{
    for (int i = 0; i < BK_OPTIONS; i++)
        if (options[i].strategy == strategy)
            return &options[i];
    fail_msg("no option %d", (int)strategy);
    return options;
}

static void test_options__each_strategy_once_in_the_order_said(void **state)
{
    (void)state;
    bk_option o[BK_OPTIONS];
    bk_risk_inputs in = stenoses(70, 70, 70);
    unsigned seen = 0;
    all(&in, o);
    for (int i = 0; i < BK_OPTIONS; i++) {
        seen |= 1u << o[i].strategy;
        /* yes before unknown before no (BK_YES 2, BK_UNKNOWN 0, BK_NO 1) */
        static const int place[] = {[BK_UNKNOWN] = 1, [BK_NO] = 2, [BK_YES] = 0};
        assert_true(i == 0 || place[o[i - 1].fits] <= place[o[i].fits]);
    }
    assert_int_equal(seen, (1u << BK_STRATEGIES) - 2);
}

static void test_options__nothing_known_is_unknown_and_provisional_first(void **state)
{
    (void)state;
    bk_option o[BK_OPTIONS];
    bk_risk_inputs in = nothing();
    all(&in, o);
    assert_int_equal(o[0].strategy, BK_PROVISIONAL);
    for (int i = 0; i < BK_OPTIONS; i++) {
        assert_int_equal(o[i].fits, BK_UNKNOWN);
        for (size_t k = 0; k < o[i].n; k++)
            assert_int_equal(o[i].conditions[k].met, BK_UNKNOWN);
    }
}

static void test_options__strata_lead_to_a_wire_or_none(void **state)
{
    (void)state;
    /* COBIS III: strata from 60 %; consensus: provisional where the side lesion is shorter than 10 mm, relevant from 2.0 mm */
    bk_option o[BK_OPTIONS];
    bk_risk_inputs in = stenoses(30, 60, 55);
    exact(&in, BK_IN_SIDE_LESION, 9.9);
    all(&in, o);
    assert_int_equal(o[0].strategy, BK_PROVISIONAL_WIRE);
    assert_int_equal(o[0].fits, BK_YES);
    assert_int_equal(option(o, BK_PROVISIONAL)->fits, BK_NO);
    in = stenoses(30, 59.9, 55);
    exact(&in, BK_IN_SIDE_LESION, 9.9);
    all(&in, o);
    assert_int_equal(option(o, BK_PROVISIONAL)->fits, BK_YES);
    assert_int_equal(option(o, BK_PROVISIONAL_WIRE)->fits, BK_NO);
    exact(&in, BK_IN_SIDE_LESION, 10); /* "shorter than 10 mm" */
    all(&in, o);
    assert_int_equal(option(o, BK_PROVISIONAL)->fits, BK_NO);
}

static void test_options__one_limb_only(void **state)
{
    (void)state;
    /* Medina 1,0,0; 0,1,0; 0,0,1 have one limb from 50 % on, true bifurcations two or three */
    static const struct {
        double p, d, s;
        bk_tri fits;
    } cases[] = {{70, 20, 20, BK_YES}, {20, 70, 20, BK_YES}, {20, 20, 70, BK_YES}, {50, 49.9, 49.9, BK_YES},
                 {70, 50, 20, BK_NO},  {20, 70, 70, BK_NO},  {70, 20, 50, BK_NO},  {70, 70, 70, BK_NO},
                 {20, 20, 20, BK_NO}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        bk_option o[BK_OPTIONS];
        bk_risk_inputs in = stenoses(cases[i].p, cases[i].d, cases[i].s);
        all(&in, o);
        assert_int_equal(option(o, BK_SINGLE_LIMB)->fits, cases[i].fits);
    }
    bk_option o[BK_OPTIONS];
    bk_risk_inputs in = stenoses(70, 20, 20);
    in.fact[BK_IN_DISTAL_STENOSIS] = (bk_fact){bk_qty_absent(), BK_FROM_NOWHERE};
    all(&in, o);
    assert_int_equal(option(o, BK_SINGLE_LIMB)->fits, BK_UNKNOWN);
}

static void test_options__two_stents_where_definition_says_complex(void **state)
{
    (void)state;
    /* DEFINITION, not left main: side at least 90 % and 10 mm, with two minor criteria: thrombus and main lesion of 25 mm */
    bk_option o[BK_OPTIONS];
    bk_risk_inputs in = stenoses(70, 70, 90);
    in.site = BK_LCX_MARGINAL;
    exact(&in, BK_IN_SIDE_LESION, 12);
    exact(&in, BK_IN_PROXIMAL_LESION, 15);
    exact(&in, BK_IN_DISTAL_LESION, 10);
    exact(&in, BK_IN_DISTAL_SIDE_ANGLE, 80);
    in.known[BK_FACT_THROMBUS] = BK_YES;
    all(&in, o);
    assert_int_equal(option(o, BK_TAP)->fits, BK_YES); /* above 70 degrees */
    assert_int_equal(option(o, BK_T)->fits, BK_YES);
    /* "below 70 degrees" for the culotte is from memory: it is not met, and decides nothing alone */
    assert_int_equal(option(o, BK_CULOTTE)->conditions[2].met, BK_NO);
    assert_int_equal(option(o, BK_CULOTTE)->fits, BK_UNKNOWN);
    assert_int_equal(option(o, BK_PROVISIONAL_WIRE)->fits, BK_NO);
    in.known[BK_FACT_THROMBUS] = BK_NO; /* one minor criterion is left, until there are several lesions */
    in.known[BK_FACT_CALCIUM_MODERATE] = BK_NO;
    in.known[BK_FACT_MULTIPLE_LESIONS] = BK_NO;
    exact(&in, BK_IN_DISTAL_SIDE_ANGLE, 60);
    all(&in, o);
    assert_int_equal(option(o, BK_DK_CRUSH)->conditions[0].met, BK_NO);
    in.known[BK_FACT_MULTIPLE_LESIONS] = BK_YES;
    all(&in, o);
    assert_int_equal(option(o, BK_DK_CRUSH)->conditions[0].met, BK_YES);
    in.known[BK_FACT_THROMBUS] = BK_YES;
    exact(&in, BK_IN_DISTAL_SIDE_ANGLE, 80);
    exact(&in, BK_IN_SIDE_STENOSIS, 89.9);
    all(&in, o);
    assert_int_equal(option(o, BK_TAP)->fits, BK_NO);
    in.fact[BK_IN_DISTAL_SIDE_ANGLE].q.origin = BK_PROJECTED; /* one view settles no angle */
    exact(&in, BK_IN_SIDE_STENOSIS, 90);
    all(&in, o);
    assert_int_equal(option(o, BK_TAP)->fits, BK_UNKNOWN);
}

static void test_options__common_practice_alone_never_says_yes(void **state)
{
    (void)state;
    bk_option o[BK_OPTIONS];
    bk_risk_inputs in = stenoses(70, 20, 70);
    exact(&in, BK_IN_SIDE_REFERENCE, 3.2); /* the larger daughter, the distal vessel free: all conditions of inverted */
    all(&in, o);
    const bk_option *inverted = option(o, BK_INVERTED);
    assert_true(inverted->conditions[0].met == BK_YES && inverted->conditions[1].met == BK_YES);
    assert_int_equal(inverted->fits, BK_UNKNOWN);
    assert_int_equal(option(o, BK_DCB_SIDE)->fits, BK_UNKNOWN);
}

static void test_options__kit_counted_from_the_steps(void **state)
{
    (void)state;
    /* counted by hand from the published lists: provisional with a jailed wire re-crosses once, with three wires at the most;
       predilatation, POT and a kissing pair; culotte has two stents and re-crosses twice */
    bk_option o[BK_OPTIONS];
    bk_risk_inputs in = nothing();
    all(&in, o);
    const bk_option *wire = option(o, BK_PROVISIONAL_WIRE), *culotte = option(o, BK_CULOTTE), *bare = option(o, BK_PROVISIONAL);
    assert_int_equal(wire->all.steps, 11);
    assert_int_equal(wire->all.recrossings, 1);
    assert_int_equal(wire->all.wires, 3);
    assert_int_equal(wire->all.balloons, 4);
    assert_int_equal(wire->all.stents, 1);
    assert_int_equal(wire->always.wires, 2);
    assert_int_equal(wire->always.balloons, 2);
    assert_int_equal(wire->always.recrossings, 0);
    assert_int_equal(bare->always.wires, 1);
    assert_int_equal(culotte->all.stents, 2);
    assert_int_equal(culotte->all.recrossings, 2);
    assert_false(option(o, BK_DK_CULOTTE)->steps_known);
}

/* ---- RESOLVE points from a table that somebody entered; the numbers are invented ---- */

#define POINTS(id_, value_) {.id = id_, .value = value_, .standing = BK_SEEN}
static const bk_evidence invented[] = {
    POINTS("v_resolve_line", 12),
    POINTS("resolve_points_plaque_same", 1),
    POINTS("resolve_points_timi_2", 3),
    POINTS("resolve_points_timi_1", 5),
    POINTS("resolve_points_timi_0", 8),
    POINTS("resolve_points_core_1", 2),
    POINTS("resolve_points_core_1_from", 50),
    POINTS("resolve_points_angle_1", 4),
    POINTS("resolve_points_angle_1_from", 70),
    POINTS("resolve_points_angle_2", 6),
    POINTS("resolve_points_angle_2_from", 90),
    POINTS("resolve_points_ratio_1", 3),
    POINTS("resolve_points_ratio_1_from", 1.2),
    POINTS("resolve_points_side_1", 2),
    POINTS("resolve_points_side_1_from", 50),
    POINTS("resolve_points_side_2", 7),
    POINTS("resolve_points_side_2_from", 80),
};
#define INVENTED_N (sizeof invented / sizeof invented[0])

static void test_resolve__points_only_from_an_entered_table(void **state)
{
    (void)state;
    bk_risk_inputs in = stenoses(70, 70, 80); /* ratio (3.7 + 3.0)/2 / 2.5 = 1.34: 3 points; side 7; core 0 */
    in.known[BK_FACT_PLAQUE_SAME] = BK_YES; /* 1 */
    exact(&in, BK_IN_DISTAL_SIDE_ANGLE, 70); /* 4: the line belongs to the band */
    assert_false(bk_resolve_score_of(&in, 2, bk_evidence_builtin()).entered);
    const bk_evidence_set set = {invented, INVENTED_N};
    bk_resolve_score s = bk_resolve_score_of(&in, 2, &set);
    assert_true(s.entered);
    assert_near(s.points.low, 3 + 7 + 1 + 4 + 3, 0);
    assert_near(s.points.high, s.points.low, 0);
    assert_int_equal(s.high, BK_YES);
    s = bk_resolve_score_of(&in, 3, &set);
    assert_near(s.points.low, 15, 0);
    in.fact[BK_IN_DISTAL_SIDE_ANGLE].q.origin = BK_PROJECTED; /* one view: any angle, 0 to 6 */
    s = bk_resolve_score_of(&in, 3, &set);
    assert_near(s.points.low, 11, 0);
    assert_near(s.points.high, 17, 0);
    assert_int_equal(s.high, BK_UNKNOWN);
    s = bk_resolve_score_of(&in, BK_INTEGER_ABSENT, &set);
    assert_near(s.points.high, 25, 0);
}

static void test_resolve__a_row_not_read_makes_no_score(void **state)
{
    (void)state;
    bk_evidence rows[INVENTED_N];
    const bk_evidence_set set = {rows, INVENTED_N};
    bk_risk_inputs in = stenoses(70, 70, 80);
    memcpy(rows, invented, sizeof rows);
    assert_true(bk_resolve_score_of(&in, 3, &set).entered);
    for (size_t i = 1; i < INVENTED_N; i++) {
        memcpy(rows, invented, sizeof rows);
        rows[i].standing = BK_MEMORY;
        assert_false(bk_resolve_score_of(&in, 3, &set).entered);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_options__each_strategy_once_in_the_order_said),
        cmocka_unit_test(test_options__nothing_known_is_unknown_and_provisional_first),
        cmocka_unit_test(test_options__strata_lead_to_a_wire_or_none),
        cmocka_unit_test(test_options__one_limb_only),
        cmocka_unit_test(test_options__two_stents_where_definition_says_complex),
        cmocka_unit_test(test_options__common_practice_alone_never_says_yes),
        cmocka_unit_test(test_options__kit_counted_from_the_steps),
        cmocka_unit_test(test_resolve__points_only_from_an_entered_table),
        cmocka_unit_test(test_resolve__a_row_not_read_makes_no_score),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
