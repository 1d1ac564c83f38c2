/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "base/random.h"
#include "core/plan/devices.h"

static bk_facts no_facts(void)
{
    static const bk_fact nothing = {{0, 0, BK_ORIGIN_ABSENT}, BK_FROM_NOWHERE};
    bk_facts f = {.distal_side_deg = nothing, .scale_sd_pct = (double)NAN, .measurement = -1};
    for (int i = 0; i < BK_LIMBS; i++) {
        f.limb[i] = (bk_limb_facts){.reference_mm = nothing, .lesion_end_mm = (double)NAN};
        f.limb[i].lesion_length_mm = nothing;
    }
    return f;
}

static bk_fact entered(double value)
{
    return (bk_fact){bk_qty_of(value, (double)NAN, BK_ENTERED), BK_FROM_ANATOMY};
}

/* The worked example of docs/methods/sizing.md: distal 3.0, side 2.5, proximal 3.73 mm. */
static bk_facts worked_example(void)
{
    bk_facts f = no_facts();
    f.limb[BK_PROXIMAL].reference_mm = entered(3.73);
    f.limb[BK_DISTAL].reference_mm = entered(3.0);
    f.limb[BK_SIDE].reference_mm = entered(2.5);
    f.limb[BK_PROXIMAL].lesion_length_mm = entered(5);
    f.limb[BK_DISTAL].lesion_length_mm = entered(12);
    f.distal_side_deg = entered(50);
    return f;
}

static bk_devices plan(const bk_facts *f, int strategy)
{
    return bk_devices_plan(f, BK_CALCIUM_UNKNOWN, strategy, bk_evidence_builtin());
}

static const bk_device *item(const bk_devices *d, bk_use use)
{
    for (size_t i = 0; i < d->n; i++)
        if (d->items[i].use == use)
            return &d->items[i];
    return NULL;
}

static void test_sizing__nominal_is_the_nearest_and_half_way_the_smaller(void **state)
{
    (void)state;
    assert_near(bk_nominal_size(3.0, 0.25), 3.0, 0);
    assert_near(bk_nominal_size(3.12, 0.25), 3.0, 0);
    assert_near(bk_nominal_size(3.125, 0.25), 3.0, 0);
    assert_near(bk_nominal_size(3.13, 0.25), 3.25, 0);
    assert_near(bk_nominal_size(2.375, 0.25), 2.25, 0);
    bk_random random;
    bk_random_seed(&random, 9);
    for (int i = 0; i < 5000; i++) {
        const double target = bk_random_between(&random, 1, 6);
        assert_true(fabs(bk_nominal_size(target, 0.25) - target) <= 0.125 + 1e-9);
    }
}

static void test_sizing__stability_agrees_with_sampling(void **state)
{
    (void)state;
    const bk_size_choice c = bk_size_choose(3.05, 0.1, 0.25);
    assert_near(c.low_mm, 3.05 - 1.6449 * 0.1, 1e-4); /* 1.6449: normal quantile of 0.95, any table */
    assert_near(c.high_mm, 3.05 + 1.6449 * 0.1, 1e-4);
    bk_random random;
    bk_random_seed(&random, 4);
    const int n = 100000;
    int same = 0;
    for (int i = 0; i < n; i++)
        same += bk_nominal_size(3.05 + 0.1 * bk_random_normal(&random), 0.25) == c.nominal_mm;
    const double share = same / (double)n;
    assert_near(c.same_size_pct, 100 * share, 400 * sqrt(share * (1 - share) / n));
    assert_false(c.stable);
    assert_true(bk_size_choose(3.0, 0.03, 0.25).stable);
    assert_near(bk_size_choose(3.0, 0, 0.25).same_size_pct, 100, 0);
    assert_false(bk_size_choose(3.0, (double)NAN, 0.25).spread_known);
    assert_near(bk_size_choose(3.125, 0.02, 0.25).same_size_pct, 50, 0.1); /* on the line: an even chance */
}

static void test_sizing__platform_classes(void **state)
{
    (void)state;
    const bk_evidence_set *set = bk_evidence_builtin();
    bk_platform p[BK_PLATFORMS_MAX];
    /* distal 2.75, side 2.75: mother 0.678 x 5.5 = 3.73 mm is marginal for the small class, within the medium
     * one */
    assert_int_equal(bk_platforms_for(set, 2.75, 3.73, p), 2);
    assert_string_equal(p[0].name, "small");
    assert_int_equal(p[0].verdict, BK_PLATFORM_MARGINAL);
    assert_int_equal(p[1].verdict, BK_PLATFORM_WITHIN);
    assert_int_equal(bk_platforms_for(set, 2.5, 4.0, p), 1);
    assert_int_equal(p[0].verdict, BK_PLATFORM_ABOVE);
    assert_int_equal(bk_platforms_for(set, 5.5, 5.5, p), 0);
}

static void test_devices__worked_example(void **state)
{
    (void)state;
    const bk_facts f = worked_example();
    const bk_devices d = plan(&f, BK_STRATEGY_NOT_SAID);
    assert_int_equal(d.strategy.strategy, BK_PROVISIONAL);
    assert_near(item(&d, BK_USE_MAIN_STENT)->size.nominal_mm, 3.0, 0);
    assert_near(item(&d, BK_USE_POT_BALLOON)->size.nominal_mm, 3.75, 0);
    assert_near(item(&d, BK_USE_KISSING_MAIN)->size.nominal_mm, 3.0, 0);
    assert_near(item(&d, BK_USE_KISSING_SIDE)->size.nominal_mm, 2.5, 0);
    assert_near(item(&d, BK_USE_PREDILATATION)->size.nominal_mm, 2.5, 0);
    assert_null(item(&d, BK_USE_SIDE_STENT));
    assert_near(d.kissing.perimeter_diameter_mm, 4.51, 0.01);
    assert_near(d.laws[0].mother_mm, 3.729, 1e-9);
    assert_true(d.laws[0].applies && d.laws[1].applies && !d.laws[2].applies); /* 2.5/3.0 = 0.83 */
    assert_int_equal(d.mother_doubt, BK_MOTHER_NO_DOUBT);
    /* 12 + 2.5/sin 50 deg (3.26) + 8 = 23.26 -> 24 mm */
    assert_int_equal(d.main_length.verdict, BK_LENGTH_GIVEN);
    assert_near(d.main_length.window_mm, 3.264, 1e-3);
    assert_near(d.main_length.length_mm, 24, 0);
}

static void test_devices__missing_reference_is_not_replaced(void **state)
{
    (void)state;
    bk_facts f = worked_example();
    f.limb[BK_PROXIMAL].reference_mm = (bk_fact){bk_qty_absent(), BK_FROM_NOWHERE};
    bk_devices d = plan(&f, BK_PROVISIONAL);
    assert_false(item(&d, BK_USE_POT_BALLOON)->size.known);
    assert_true(item(&d, BK_USE_MAIN_STENT)->size.known);
    assert_true(d.laws_known && isnan(d.laws[0].difference_mm));
    assert_int_equal(d.platforms_n, 0);
    f = worked_example();
    f.limb[BK_SIDE].reference_mm = (bk_fact){bk_qty_absent(), BK_FROM_NOWHERE};
    d = plan(&f, BK_PROVISIONAL);
    assert_false(d.kissing_known || d.laws_known);
    assert_int_equal(d.main_length.verdict, BK_LENGTH_MISSING);
    f = no_facts();
    d = plan(&f, BK_PROVISIONAL);
    for (size_t i = 0; i < d.n; i++)
        assert_false(d.items[i].size.known);
}

static void test_devices__strategy_decides_axis_and_second_stent(void **state)
{
    (void)state;
    const bk_facts f = worked_example();
    bk_devices d = plan(&f, BK_INVERTED);
    assert_near(item(&d, BK_USE_MAIN_STENT)->size.nominal_mm, 2.5, 0);
    assert_near(item(&d, BK_USE_SIDE_BALLOON)->size.nominal_mm, 3.0, 0);
    d = plan(&f, BK_CULOTTE);
    assert_near(item(&d, BK_USE_SIDE_STENT)->size.nominal_mm, 2.5, 0);
    d = plan(&f, BK_SINGLE_LIMB);
    assert_int_equal(d.n, 0);
    assert_false(d.strategy.sized);
}

static void test_devices__calcium_takes_predilatation_to_the_reference(void **state)
{
    (void)state;
    const bk_facts f = worked_example();
    const bk_devices d = bk_devices_plan(&f, BK_CALCIUM_SEVERE, 0, bk_evidence_builtin());
    assert_near(item(&d, BK_USE_PREDILATATION)->size.nominal_mm, 3.0, 0);
    bk_facts small = worked_example();
    small.limb[BK_DISTAL].reference_mm = entered(2.0);
    const bk_devices e = plan(&small, 0);
    assert_near(item(&e, BK_USE_PREDILATATION)->size.target_mm, 1.6,
                1e-12); /* not under 0.8 of the reference */
}

static void test_devices__one_view_holds_the_length(void **state)
{
    (void)state;
    bk_facts f = worked_example();
    f.limb[BK_DISTAL].lesion_length_mm = (bk_fact){bk_qty_of(18.2, 0.5, BK_PROJECTED), BK_FROM_MEASUREMENT};
    f.distal_side_deg = (bk_fact){bk_qty_of(50, 2, BK_PROJECTED), BK_FROM_MEASUREMENT};
    const bk_devices d = plan(&f, 0);
    assert_int_equal(d.main_length.verdict, BK_LENGTH_HELD);
    assert_true(isnan(d.main_length.length_mm) && isnan(d.main_length.low_mm));
    assert_near(d.main_length.at_least_mm, 18.2 + 2.5 + 8,
                1e-12); /* a right angle crosses the ostium shortest */
    assert_false(d.main_length.angle_known);
}

static void test_devices__length_range_with_two_views(void **state)
{
    (void)state;
    bk_facts f = worked_example();
    f.scale_sd_pct = 1;
    f.limb[BK_DISTAL].lesion_length_mm = (bk_fact){bk_qty_of(12, 0.16, BK_MEASURED), BK_FROM_SOLID};
    f.limb[BK_PROXIMAL].lesion_length_mm = (bk_fact){bk_qty_of(11, 0.1, BK_MEASURED), BK_FROM_SOLID};
    f.distal_side_deg = (bk_fact){bk_qty_of(50, 2.5, BK_MEASURED), BK_FROM_SOLID};
    const bk_stent_length l = plan(&f, 0).main_length;
    assert_true(l.verdict == BK_LENGTH_GIVEN && l.spread_known && l.angle_known);
    assert_near(l.proximal_mm, 11 + l.window_mm / 2, 1e-12); /* longer than the landing floor of 8 mm */
    const double sd = hypot(hypot(0.16, 0.12), hypot(0.1, 0.11)), half = 1.6449 * 2.5 * acos(-1) / 180;
    assert_near(l.low_mm, 23 + 2.5 / sin(50 * acos(-1) / 180 + half) - 1.6449 * sd, 1e-3);
    assert_near(l.high_mm, 23 + 2.5 / sin(50 * acos(-1) / 180 - half) + 1.6449 * sd, 1e-3);
    f.limb[BK_DISTAL].lesion_length_mm.q = bk_qty_of(12, (double)NAN, BK_VISUAL);
    assert_false(plan(&f, 0).main_length.spread_known);
}

/* Ends counted from the branch point: the window lies inside them and is not added again. */
static void test_devices__known_ends_of_lesions_decide_the_length(void **state)
{
    (void)state;
    bk_facts f = worked_example();
    f.limb[BK_DISTAL].lesion_length_mm = (bk_fact){bk_qty_of(5.7, 0.2, BK_PROJECTED), BK_FROM_MEASUREMENT};
    f.limb[BK_PROXIMAL].lesion_length_mm = (bk_fact){bk_qty_of(5.2, 0.2, BK_PROJECTED), BK_FROM_MEASUREMENT};
    f.limb[BK_DISTAL].lesion_end_mm = 15.0;
    f.limb[BK_PROXIMAL].lesion_end_mm = 9.0;
    bk_stent_length l = plan(&f, 0).main_length;
    assert_true(l.verdict == BK_LENGTH_HELD && l.ends_known);
    /* before the branch point: half the ostium (3.26 / 2) and 8 mm of landing reach further than 9 mm */
    assert_near(l.at_least_mm, 15 + 2.5 / sin(50 * acos(-1) / 180) / 2 + 8, 1e-9);
    f.limb[BK_PROXIMAL].lesion_end_mm = 12.0;
    assert_near(plan(&f, 0).main_length.at_least_mm, 15 + 12, 1e-9);
    f.limb[BK_DISTAL].no_lesion = true; /* the ostium is crossed all the same */
    l = plan(&f, 0).main_length;
    assert_near(l.distal_mm, 2.5 / sin(50 * acos(-1) / 180) / 2, 1e-9);
}

static void test_devices__disputed_scale_withdraws_sizes_from_the_picture(void **state)
{
    (void)state;
    bk_facts f = worked_example();
    f.agreement = BK_DISAGREE;
    f.measurement = 0;
    bk_devices d = plan(&f, 0);
    assert_false(d.withdrawn); /* all entered by hand */
    f.limb[BK_DISTAL].reference_mm = (bk_fact){bk_qty_of(3, 0.1, BK_MEASURED), BK_FROM_MEASUREMENT};
    d = plan(&f, 0);
    assert_true(d.withdrawn && !item(&d, BK_USE_MAIN_STENT)->size.known && !d.kissing_known && !d.laws_known);
    assert_true(item(&d, BK_USE_POT_BALLOON)->size.known);
    assert_int_equal(d.main_length.verdict, BK_LENGTH_GIVEN);
    f.limb[BK_DISTAL].lesion_length_mm.from = BK_FROM_MEASUREMENT;
    d = plan(&f, 0);
    assert_int_equal(d.main_length.verdict, BK_LENGTH_WITHDRAWN);
    f.agreement = BK_SINGLE; /* one way only: nothing to disagree with */
    const bk_devices single = plan(&f, 0);
    assert_true(!single.withdrawn && item(&single, BK_USE_MAIN_STENT)->size.known);
    assert_true(isnan(d.main_length.length_mm));
}

static void test_devices__doubts_about_references(void **state)
{
    (void)state;
    bk_facts f = worked_example();
    f.limb[BK_PROXIMAL].reference_mm = entered(3.3); /* 0.9 x 3.72 = 3.35 */
    assert_int_equal(plan(&f, 0).mother_doubt, BK_MOTHER_SMALL);
    f.limb[BK_PROXIMAL].reference_mm = entered(4.2); /* 1.1 x 3.73 = 4.10 */
    assert_int_equal(plan(&f, 0).mother_doubt, BK_MOTHER_LARGE);
    f.limb[BK_PROXIMAL].reference_mm = entered(2.9);
    assert_true(plan(&f, 0).distal_larger);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sizing__nominal_is_the_nearest_and_half_way_the_smaller),
        cmocka_unit_test(test_sizing__stability_agrees_with_sampling),
        cmocka_unit_test(test_sizing__platform_classes),
        cmocka_unit_test(test_devices__worked_example),
        cmocka_unit_test(test_devices__missing_reference_is_not_replaced),
        cmocka_unit_test(test_devices__strategy_decides_axis_and_second_stent),
        cmocka_unit_test(test_devices__calcium_takes_predilatation_to_the_reference),
        cmocka_unit_test(test_devices__one_view_holds_the_length),
        cmocka_unit_test(test_devices__length_range_with_two_views),
        cmocka_unit_test(test_devices__known_ends_of_lesions_decide_the_length),
        cmocka_unit_test(test_devices__disputed_scale_withdraws_sizes_from_the_picture),
        cmocka_unit_test(test_devices__doubts_about_references),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
