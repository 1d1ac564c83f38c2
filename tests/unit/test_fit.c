/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "base/random.h"
#include "core/plan/fit.h"
#include "core/plan/packing.h"

/* Descartes 1643 with the outer circle of negative curvature; k = 1/r. */
static double descartes(double a, double b, double c)
{
    const double k1 = 2 / a, k2 = 2 / b, k3 = 2 / c;
    return 2 / fabs(k1 + k2 + k3 - 2 * sqrt(k1 * k2 + k2 * k3 + k1 * k3));
}

static double pack(double a, double b, double c, double d)
{
    return bk_packing_diameter((const double[]){a, b, c, d}, d > 0 ? 4 : c > 0 ? 3 : 2);
}

static void test_packing__two_and_three(void **state)
{
    (void)state;
    assert_near(bk_packing_diameter((const double[]){1.3}, 1), 1.3, 1e-12);
    assert_near(pack(1.0, 0.85, 0, 0), 1.85, 1e-12);
    assert_near(pack(1, 1, 1, 0), 1 + 2 / sqrt(3), 1e-9); /* three equal circles: known closed form */
    assert_near(pack(1, 1, 2.0 / 3, 0), 2, 1e-9);         /* equal r: the third is free up to two thirds */
    assert_true(pack(1, 1, 0.67, 0) > 2);
    bk_random random;
    bk_random_seed(&random, 8);
    for (int i = 0; i < 500; i++) {
        const double a = bk_random_between(&random, 0.3, 1.3), b = bk_random_between(&random, 0.3, 1.3),
                     c = bk_random_between(&random, 0.3, 1.3), largest = fmax(a, fmax(b, c)),
                     smallest = fmin(a, fmin(b, c)), middle = a + b + c - largest - smallest;
        const double free = 2 / (2 / largest + 2 / middle - 2 / (largest + middle));
        const double want = smallest <= free ? largest + middle : descartes(a, b, c);
        assert_near(pack(a, b, c, 0), want, 1e-9);
    }
}

static void test_packing__examples_of_the_trade(void **state)
{
    (void)state;
    /* worked out by Descartes' formula outside this code: balloon, hypotube and wire; three shafts; stents
     * and wire */
    assert_near(pack(1.00, 0.85, 0.3556, 0), 1.85, 0.005);
    assert_near(pack(1.00, 0.69, 0.3556, 0), 1.69, 0.005);
    assert_near(pack(0.69, 0.69, 0.3556, 0), 1.38, 0.005);
    assert_near(pack(1.00, 0.69, 0.69, 0), 1.745, 0.0005); /* curvatures 2, 2.899, 2.899 */
    assert_near(pack(0.90, 0.85, 0, 0), 1.75, 0.005);
    assert_near(pack(1.10, 0.85, 0.3556, 0), 1.95, 0.005);
    assert_near(pack(1.10, 1.10, 0.3556, 0), 2.20, 0.005);
}

static void test_packing__more_circles(void **state)
{
    (void)state;
    /* known optima for equal circles (Graham, Discrete Math 1968;19:... recalled): 1+sqrt 2,
     * 1+sqrt(2(1+1/sqrt 5)), 3 */
    const double one[7] = {1, 1, 1, 1, 1, 1, 1};
    assert_near(bk_packing_diameter(one, 4), 1 + sqrt(2), 1e-9);
    assert_near(bk_packing_diameter(one, 5), 1 + sqrt(2 * (1 + 1 / sqrt(5))), 1e-9);
    assert_near(bk_packing_diameter(one, 6), 3, 1e-9);
    /* order does not matter, more room is never needed for less, and doubling doubles */
    const double a[4] = {1, 0.69, 0.3556, 0.3556}, b[4] = {0.3556, 1, 0.3556, 0.69},
                 twice[4] = {2, 1.38, 0.7112, 0.7112};
    assert_near(bk_packing_diameter(a, 4), bk_packing_diameter(b, 4), 1e-9);
    assert_near(2 * bk_packing_diameter(a, 4), bk_packing_diameter(twice, 4), 1e-9);
    assert_true(bk_packing_diameter(a, 3) <= bk_packing_diameter(a, 4));
}

/* The places are a packing: inside the tube, and no two overlap. */
static void test_packing__places_do_not_overlap(void **state)
{
    (void)state;
    bk_random random;
    bk_random_seed(&random, 21);
    for (int trial = 0; trial < 400; trial++) {
        double mm[6], place[6][2];
        const size_t n = 1 + (size_t)trial % 6;
        for (size_t i = 0; i < n; i++)
            mm[i] = bk_random_between(&random, 0.3, 1.3);
        const double tube = bk_packing_place(mm, n, place);
        for (size_t i = 0; i < n; i++) {
            assert_true(hypot(place[i][0], place[i][1]) + mm[i] / 2 <= tube / 2 + 1e-7);
            for (size_t j = 0; j < i; j++)
                assert_true(hypot(place[i][0] - place[j][0], place[i][1] - place[j][1]) >=
                            (mm[i] + mm[j]) / 2 - 1e-7);
        }
    }
}

static bk_fit fit(int french, size_t n, const bk_kind *kinds)
{
    return bk_fit_kinds(bk_evidence_builtin(), kinds, n, french);
}
#define FIT(french, ...)                                                                                     \
    fit(french, sizeof((const bk_kind[]){__VA_ARGS__}) / sizeof(bk_kind), (const bk_kind[]){__VA_ARGS__})

static void test_fit__two_balloons_in_six_french(void **state)
{
    (void)state;
    bk_fit f = FIT(6, BK_KIND_BALLOON, BK_KIND_BALLOON);
    assert_near(f.needed_mm, 1.85, 1e-9); /* 1.00 front beside 0.85 shaft */
    assert_int_equal(f.by_packing, BK_FITS_NOT);
    assert_int_equal(f.verdict, BK_TIGHT);
    assert_true(f.by_rule && f.rule_french == 6);
    f = FIT(6, BK_KIND_BALLOON, BK_KIND_BALLOON, BK_KIND_WIRE);
    assert_int_equal(f.verdict, BK_TIGHT);
    f = FIT(7, BK_KIND_BALLOON, BK_KIND_BALLOON, BK_KIND_WIRE);
    assert_int_equal(f.verdict, BK_FITS);
    assert_false(f.by_rule);
    f = FIT(5, BK_KIND_BALLOON, BK_KIND_BALLOON);
    assert_int_equal(f.verdict, BK_FITS_NOT); /* textbook: most techniques not in 5 F */
}

static void test_fit__stents_and_microcatheters(void **state)
{
    (void)state;
    bk_fit f = FIT(6, BK_KIND_STENT, BK_KIND_WIRE);
    assert_int_equal(f.verdict, BK_FITS);
    assert_near(f.needed_mm, 1.1 + 0.3556, 1e-9); /* front beside the wire */
    f = FIT(7, BK_KIND_STENT, BK_KIND_STENT);
    assert_int_equal(f.verdict, BK_FITS); /* staggered, as the textbook has it: 1.95 of 2.06 */
    assert_int_equal(f.rule_french, 7);
    f = FIT(6, BK_KIND_STENT, BK_KIND_STENT);
    assert_int_equal(f.verdict, BK_FITS_NOT);
    f = FIT(6, BK_KIND_STENT, BK_KIND_BALLOON);
    assert_int_equal(f.by_packing,
                     BK_FITS_NOT); /* 1.10 + 0.85 in 1.78; TAP in 6 F is published practice (Burzotta 2015) */
    assert_int_equal(f.verdict, BK_TIGHT);
    assert_string_equal(f.rule_row, "guide_tap_six_french");
    f = FIT(6, BK_KIND_DUAL_LUMEN, BK_KIND_WIRE);
    assert_int_equal(f.verdict,
                     BK_FITS); /* recalled of the trade: a dual-lumen microcatheter goes into 6 F */
    f = FIT(6, BK_KIND_MICROCATHETER, BK_KIND_BALLOON);
    assert_int_equal(f.verdict, BK_FITS_NOT); /* 1.00 + 0.87 */
}

static void test_fit__cannot_say(void **state)
{
    (void)state;
    const bk_kind four[4] = {BK_KIND_BALLOON, BK_KIND_BALLOON, BK_KIND_BALLOON, BK_KIND_STENT};
    assert_int_equal(fit(6, 4, four).verdict, BK_FIT_CANNOT_SAY);
    assert_int_equal(FIT(4, BK_KIND_WIRE).verdict, BK_FIT_CANNOT_SAY);
    assert_null(bk_fit_name(BK_FIT_CANNOT_SAY));
    bk_profile unknown = bk_fit_profile(bk_evidence_builtin(), BK_KIND_STENT);
    unknown.mm[BK_FRONT] = (double)NAN;
    assert_int_equal(bk_fit_profiles(bk_evidence_builtin(), &unknown, 1, 1.78, 6).verdict, BK_FIT_CANNOT_SAY);
    assert_int_equal(fit(6, 0, four).verdict, BK_FITS); /* an empty guide */
}

/* The wider the guide, the better the verdict; and more devices never make it better. */
static void test_fit__is_monotone(void **state)
{
    (void)state;
    for (int code = 0; code < BK_KINDS * BK_KINDS * BK_KINDS; code++) {
        const bk_kind kinds[3] = {(bk_kind)(code % BK_KINDS), (bk_kind)(code / BK_KINDS % BK_KINDS),
                                  (bk_kind)(code / BK_KINDS / BK_KINDS)};
        for (int french = 5; french < 8; french++) {
            assert_true(fit(french, 3, kinds).verdict >= fit(french + 1, 3, kinds).verdict);
            assert_true(fit(french, 3, kinds).by_packing >= fit(french, 2, kinds).by_packing);
        }
        const bk_fit six = fit(6, 3, kinds);
        const int balloons =
            (kinds[0] == BK_KIND_BALLOON) + (kinds[1] == BK_KIND_BALLOON) + (kinds[2] == BK_KIND_BALLOON);
        const int wires =
            (kinds[0] == BK_KIND_WIRE) + (kinds[1] == BK_KIND_WIRE) + (kinds[2] == BK_KIND_WIRE);
        if (balloons == 2 && wires == 1)
            assert_true(six.verdict != BK_FITS_NOT);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_packing__two_and_three),
        cmocka_unit_test(test_packing__examples_of_the_trade),
        cmocka_unit_test(test_packing__more_circles),
        cmocka_unit_test(test_packing__places_do_not_overlap),
        cmocka_unit_test(test_fit__two_balloons_in_six_french),
        cmocka_unit_test(test_fit__stents_and_microcatheters),
        cmocka_unit_test(test_fit__cannot_say),
        cmocka_unit_test(test_fit__is_monotone),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
