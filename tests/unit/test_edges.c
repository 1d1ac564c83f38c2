/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "core/image/edges.h"

#define FWHM 2.3548200450309493 /* of a Gaussian of SD 1 */

/* Bias of the two derivative widths and of their mean for a round lumen under a Gaussian blur, in FWHM. The values
   were computed independently of this code (extrema of the derivatives of chord profile * Gaussian, by direct
   numerical convolution; docs/methods/edges.md) and are given to two decimals. */
static void test_edges__blur_bias_as_computed_elsewhere(void **state)
{
    (void)state;
    static const struct {
        double d, first, second, mean;
    } rows[] = {{0.5, 0.39, 1.04, 0.71},  {1.0, 0.02, 0.76, 0.39},  {1.5, -0.22, 0.63, 0.20}, {2.0, -0.35, 0.58, 0.11},
                {3.0, -0.46, 0.54, 0.04}, {4.0, -0.51, 0.52, 0.00}, {8.0, -0.58, 0.49, -0.04}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double first, second;
        bk_edge_widths(rows[i].d * FWHM, &first, &second);
        assert_near(first / FWHM - rows[i].d, rows[i].first, 0.0075);
        assert_near(second / FWHM - rows[i].d, rows[i].second, 0.0075);
        assert_near(0.5 * (first + second) / FWHM - rows[i].d, rows[i].mean, 0.0075);
    }
}

static void test_edges__unblur_undoes_the_bias(void **state)
{
    (void)state;
    bk_edge_table table;
    bk_edge_table_fill(&table);
    for (double d = 0.6; d < 40; d *= 1.3) {
        double first, second;
        bk_edge_widths(d, &first, &second);
        assert_near(bk_edge_unblur(&table, 1.7 * 0.5 * (first + second), 1.7), 1.7 * d, 0.02);
    }
    assert_near(bk_edge_unblur(&table, 0.5, 1.0), 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_edges__blur_bias_as_computed_elsewhere),
        cmocka_unit_test(test_edges__unblur_undoes_the_bias),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
