/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "base/random.h"
#include <string.h>

#include "core/anatomy/branching.h"
#include "core/anatomy/law_check.h"

typedef struct laws {
    bk_branching_law fractal, hk, murray, area, two_thirds;
} laws;

static laws all_laws(void)
{
    const bk_evidence_set *set = bk_evidence_builtin();
    return (laws){bk_law_fractal(set), bk_law_hk(set), bk_law_murray(set), bk_law_area(set),
                  bk_law_two_thirds(set)};
}

/* Means of the fractal series: Finet 2007, 173 bifurcations: mother 3.33, daughters 2.70 and 2.23 mm. */
static void test_branching__published_means(void **state)
{
    (void)state;
    const laws law = all_laws();
    const bk_evidence_set *set = bk_evidence_builtin();
    const double large = bk_evidence_value(set, BK_EVIDENCE("law_fractal_large"));
    const double small = bk_evidence_value(set, BK_EVIDENCE("law_fractal_small"));
    assert_near(bk_branching_mother(law.fractal, large, small), 3.343, 5e-4);
    assert_near(bk_branching_mother(law.hk, large, small), 3.338, 5e-4);
    assert_near(bk_branching_mother(law.murray, large, small), 3.134, 5e-4);
    assert_near(bk_branching_mother(law.area, large, small), 3.502, 5e-4);
    /* the measured mean mother, to within the rounding of the printed ratio */
    assert_near(bk_branching_mother(law.fractal, large, small),
                bk_evidence_value(set, BK_EVIDENCE("law_fractal_mother")), 0.02);
    assert_near(bk_branching_mother(law.hk, large, small), 3.33, 0.02);
}

/* 3.0 and 2.5 mm: worked by hand from the formulas (3.0^3 + 2.5^3 = 42.625; 3^2 + 2.5^2 = 15.25; ...). */
static void test_branching__worked_example(void **state)
{
    (void)state;
    const laws law = all_laws();
    assert_near(bk_branching_mother(law.fractal, 3, 2.5), 3.729, 1e-9);
    assert_near(bk_branching_mother(law.hk, 3, 2.5), 3.722, 5e-4);
    assert_near(bk_branching_mother(law.murray, 3, 2.5), cbrt(42.625), 1e-12);
    assert_near(bk_branching_mother(law.area, 3, 2.5), sqrt(15.25), 1e-12);
    assert_near(bk_branching_mother(law.two_thirds, 3, 2.5), 3.667, 5e-4);
    assert_near(bk_branching_daughter(law.fractal, 3.729, 3), 2.5, 1e-9);
}

static void test_branching__daughter_undoes_mother(void **state)
{
    (void)state;
    const laws law = all_laws();
    const bk_branching_law each[] = {law.fractal, law.hk, law.murray, law.area, law.two_thirds};
    bk_random random;
    bk_random_seed(&random, 3);
    for (int i = 0; i < 2000; i++) {
        const double d1 = bk_random_between(&random, 1, 5), d2 = bk_random_between(&random, 0.5, 5);
        const double scale = bk_random_between(&random, 0.5, 2);
        for (int k = 0; k < 5; k++) {
            const double mother = bk_branching_mother(each[k], d1, d2);
            assert_near(bk_branching_daughter(each[k], mother, d1), d2, 1e-9);
            assert_near(bk_branching_mother(each[k], d2, d1), mother, 1e-12); /* symmetric */
            assert_near(bk_branching_mother(each[k], scale * d1, scale * d2), scale * mother,
                        1e-9); /* scale-free */
        }
    }
}

static void test_branching__no_room_for_a_daughter(void **state)
{
    (void)state;
    const laws law = all_laws();
    assert_true(isnan(bk_branching_daughter(law.fractal, 2, 3)));
    assert_true(isnan(bk_branching_daughter(law.hk, 3, 3)));
    assert_true(bk_branching_daughter(law.fractal, 3, 3) >
                0); /* the linear law leaves room for a small one */
}

/* First-order spread against sampled daughters. */
static void test_branching__spread_agrees_with_sampling(void **state)
{
    (void)state;
    const laws law = all_laws();
    const bk_branching_law each[] = {law.fractal, law.hk, law.murray};
    bk_random random;
    bk_random_seed(&random, 11);
    for (int k = 0; k < 3; k++) {
        const int n = 40000;
        double sum = 0, sum2 = 0;
        for (int i = 0; i < n; i++) {
            const double x = bk_branching_mother(each[k], 3 + 0.1 * bk_random_normal(&random),
                                                 2.5 + 0.15 * bk_random_normal(&random));
            sum += x;
            sum2 += x * x;
        }
        const double sd = sqrt(sum2 / n - (sum / n) * (sum / n));
        assert_near(bk_branching_mother_sd(each[k], 3, 2.5, 0.1, 0.15) / sd, 1, 4 / sqrt(2.0 * n) + 0.002);
    }
}

static bool warned(const bk_bifurcation *b, const char *code)
{
    for (size_t i = 0; i < b->warnings_n; i++)
        if (strcmp(b->warnings[i].code, code) == 0)
            return true;
    return false;
}

/* Three healthy limbs of these references, each known to 0.05 mm. */
static void check_limbs(const double reference[BK_LIMBS], double at[BK_LIMBS], bk_bifurcation *b)
{
    memset(b, 0, sizeof *b);
    for (int i = 0; i < BK_LIMBS; i++) {
        at[i] = reference[i];
        b->segment[i] = (bk_segment){.n = 1, .healthy_mm = 10, .reference_at_mm = &at[i], .reference_fitted_mm = bk_qty_absent()};
        b->segment[i].reference_mm = bk_qty_of(reference[i], 0.05, BK_MEASURED);
        b->segment[i].mld_mm = bk_qty_of(reference[i], 0.05, BK_MEASURED);
    }
    bk_law_check(b, all_laws().hk);
}

static void test_law_check__names_a_limb_that_does_not_fit(void **state)
{
    (void)state;
    double at[BK_LIMBS];
    bk_bifurcation b;
    /* the HK mother of 3.0 and 2.5 mm is 3.722 mm (worked above) */
    check_limbs((const double[]){3.722, 3.0, 2.5}, at, &b);
    assert_near(b.segment[BK_PROXIMAL].reference_by_law_mm.value, 3.722, 5e-4);
    assert_false(warned(&b, "diffuse") || warned(&b, "wider_than_law"));
    check_limbs((const double[]){3.0, 3.0, 2.5}, at, &b); /* 19 % under */
    assert_true(warned(&b, "diffuse"));
    check_limbs((const double[]){5.2, 3.0, 2.5}, at, &b); /* 40 % over */
    assert_true(warned(&b, "wider_than_law"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_branching__published_means),
        cmocka_unit_test(test_branching__worked_example),
        cmocka_unit_test(test_branching__daughter_undoes_mother),
        cmocka_unit_test(test_branching__no_room_for_a_daughter),
        cmocka_unit_test(test_branching__spread_agrees_with_sampling),
        cmocka_unit_test(test_law_check__names_a_limb_that_does_not_fit),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
