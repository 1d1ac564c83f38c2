/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "base/random.h"
#include "core/anatomy/branching.h"
#include "core/plan/kissing.h"

#define PI 3.14159265358979323846

/* The table of docs/methods/kissing.md, which was worked out before this code was written. */
static const struct {
    double d1, d2, fractal, lumped, hull, perimeter, ellipticity, over;
} table[] = {
    {2.5, 2.0, 3.05, 3.20, 3.41, 3.69, 1.80, 1.21}, {3.0, 2.0, 3.39, 3.61, 3.82, 4.12, 1.67, 1.22},
    {3.0, 2.5, 3.73, 3.91, 4.16, 4.51, 1.83, 1.21}, {3.0, 3.0, 4.07, 4.24, 4.52, 4.91, 2.00, 1.21},
    {3.5, 2.5, 4.07, 4.30, 4.57, 4.94, 1.71, 1.21}, {3.5, 3.0, 4.41, 4.61, 4.91, 5.33, 1.86, 1.21},
};

static void test_kissing__whole_table(void **state)
{
    (void)state;
    const bk_branching_law fractal = bk_law_fractal(bk_evidence_builtin());
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        const bk_kissing k = bk_kissing_outline(table[i].d2, table[i].d1);
        const double mother = bk_branching_mother(fractal, table[i].d1, table[i].d2);
        assert_near(mother, table[i].fractal, 0.0051);
        assert_near(k.lumped_diameter_mm, table[i].lumped, 0.01);
        assert_near(k.hull_diameter_mm, table[i].hull, 0.01);
        assert_near(k.perimeter_diameter_mm, table[i].perimeter, 0.01);
        assert_near(k.long_axis_mm, table[i].d1 + table[i].d2, 1e-12);
        assert_near(k.short_axis_mm, table[i].d1, 1e-12);
        assert_near(k.ellipticity, table[i].ellipticity, 0.0051);
        assert_near(k.perimeter_diameter_mm / mother, table[i].over, 0.0051);
    }
}

static void test_kissing__equal_balloons(void **state)
{
    (void)state;
    const bk_kissing k = bk_kissing_outline(1, 1); /* closed form: D (1 + 2/pi); sqrt(4/pi + 1) D */
    assert_near(k.perimeter_diameter_mm, 1 + 2 / PI, 1e-12);
    assert_near(k.hull_diameter_mm, sqrt(4 / PI + 1), 1e-12);
    assert_near(k.lumped_diameter_mm, sqrt(2), 1e-12);
}

/* Another way to the same outline: the support function h(t) of the convex hull of two circles.
   Cauchy: perimeter = integral of h; area = half the integral of h^2 - h'^2 (h' by differences). */
static void test_kissing__support_function_agrees(void **state)
{
    (void)state;
    bk_random random;
    bk_random_seed(&random, 5);
    for (int trial = 0; trial < 50; trial++) {
        const double d1 = bk_random_between(&random, 1, 6), d2 = bk_random_between(&random, 1, 6);
        const double apart = (d1 + d2) / 2;
        const int n = 20000;
        const double step = 2 * PI / n;
        double perimeter = 0, area = 0, before = fmax(d1 / 2, apart + d2 / 2);
        for (int i = 1; i <= n; i++) {
            const double h = fmax(d1 / 2, apart * cos(i * step) + d2 / 2);
            const double slope = (h - before) / step, middle = (h + before) / 2;
            perimeter += middle * step;
            area += (middle * middle - slope * slope) / 2 * step;
            before = h;
        }
        const bk_kissing k = bk_kissing_outline(d1, d2);
        assert_near(k.perimeter_diameter_mm, perimeter / PI, 1e-5);
        assert_near(k.hull_diameter_mm, sqrt(4 * area / PI), 2e-3);
        assert_true(k.lumped_diameter_mm < k.hull_diameter_mm &&
                    k.hull_diameter_mm < k.perimeter_diameter_mm);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_kissing__whole_table),
        cmocka_unit_test(test_kissing__equal_balloons),
        cmocka_unit_test(test_kissing__support_function_agrees),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
