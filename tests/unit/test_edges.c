/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/arena.h"

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

/* A vessel along x, 20 px wide, that narrows to 4 px and swerves by 5 px at x = 100: what a ray meets is the chord of a
   circle, the blur is summed by hand. */
#define LENGTH 200
#define HEIGHT 80
#define BLUR 1.2

static double shift; /* of the vessel against the rows */
static double drawn_middle(double x) { return 40 + shift + 5 * exp(-0.5 * (x - 100) * (x - 100) / 100); }
static double drawn_diameter(double x) { return 20 - 16 * exp(-0.5 * (x - 100) * (x - 100) / 100); }

static double darkness(double x, double y)
{
    double sum = 0, total = 0;
    for (double t = -3; t <= 3; t += 0.1) {
        const double weight = exp(-0.5 * t * t), off = y + BLUR * t - drawn_middle(x), r = 0.5 * drawn_diameter(x);
        sum += weight * (r * r > off * off ? 2 * sqrt(r * r - off * off) : 0);
        total += weight;
    }
    return sum / total;
}

/* Followed along a straight axis that runs past the swerve, outside the throat. */
#define SAMPLES (2 * LENGTH - 40)
static void follow_drawn(bk_lumen_limb *limb)
{
    static float px[HEIGHT * LENGTH];
    static bk_pt_px points[SAMPLES];
    static double radius[SAMPLES];
    bk_err err;
    for (int y = 0; y < HEIGHT; y++)
        for (int x = 0; x < LENGTH; x++)
            px[y * LENGTH + x] = (float)(5 - 0.02 * darkness(x, y));
    for (size_t i = 0; i < SAMPLES; i++) {
        points[i] = (bk_pt_px){10 + 0.5 * (double)i, 40};
        radius[i] = 9;
    }
    const bk_image image = {.rows = HEIGHT, .cols = LENGTH, .px = px};
    const bk_curve axis = {points, SAMPLES, 0.5};
    bk_edge_table table;
    bk_edge_table_fill(&table);
    const bk_edge_options options = {.mm_per_px = 0.25, .psf_sigma_px = BLUR, .table = &table, .outside_from = 0};
    assert_int_equal(bk_edges_follow(&image, &axis, radius, &options, &arena, limb, &err), BK_OK);
}

static void test_edges__a_throat_beside_the_axis_is_found(void **state)
{
    (void)state;
    bk_lumen_limb limb;
    shift = 0;
    follow_drawn(&limb);
    for (size_t i = 20; i < SAMPLES - 20; i++)
        assert_near(limb.diameter_px[i], drawn_diameter(limb.axis[i].x), 1.0);
    assert_near(limb.axis[SAMPLES / 2].x, 100, 2);
    assert_near(limb.diameter_px[SAMPLES / 2], 4, 0.5);
}

/* The width of a vessel does not depend on where the rows of the picture lie against it. */
static void test_edges__widths_do_not_lock_onto_rows(void **state)
{
    (void)state;
    for (shift = 0; shift < 1; shift += 0.125) {
        bk_lumen_limb limb;
        follow_drawn(&limb);
        for (size_t i = 20; i < 80; i++) /* straight there */
            assert_near(limb.diameter_px[i], 20, 0.25);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_edges__blur_bias_as_computed_elsewhere),
        cmocka_unit_test(test_edges__a_throat_beside_the_axis_is_found),
        cmocka_unit_test(test_edges__widths_do_not_lock_onto_rows),
        cmocka_unit_test(test_edges__unblur_undoes_the_bias),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, start, stop);
}
