/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Guide wires in a lumen drawn by its chord (Beer-Lambert, plane geometry) and blurred; what is left after they were taken out is
   compared with the same lumen drawn without them. */
#include "support/arena.h"

#include <string.h>

#include "base/random.h"
#include "core/image/gauss.h"
#include "core/image/linear.h"
#include "core/image/wire.h"

#define ROWS 120
#define COLS 240
#define MM 0.25
#define AXIS_ROW 60.0
#define BLUR_PX 0.9
#define PER_MM 0.12      /* contrast */
#define WIRE_PER_MM 0.8  /* what a wire adds to it */
#define WIRE_MM 0.36     /* 0.014 inch */

static double chord(double off_mm, double d)
{
    return off_mm * off_mm < d * d / 4 ? 2 * sqrt(d * d / 4 - off_mm * off_mm) : 0;
}

/* mm from the axis; the wires swing from wall to wall. */
static double wire_at(int wire, double x_mm)
{
    return (wire ? -0.7 : 0.7) * sin(x_mm * 0.15 + wire);
}

static bk_image draw(double lumen_mm, int wires, uint64_t seed)
{
    bk_image sharp, image;
    bk_random random;
    assert_int_equal(bk_image_new(ROWS, COLS, &arena, &sharp, NULL), BK_OK);
    for (int32_t r = 0; r < ROWS; r++)
        for (int32_t c = 0; c < COLS; c++) {
            double dark = 0;
            for (int k = -2; k <= 2; k++) { /* pixels have a width */
                const double y = (r - AXIS_ROW + 0.2 * k) * MM, x = c * MM;
                dark += PER_MM * chord(y, lumen_mm) / 5;
                for (int i = 0; i < wires; i++)
                    dark += WIRE_PER_MM * chord(y - wire_at(i, x), WIRE_MM) / 5;
            }
            sharp.px[r * COLS + c] = (float)(6 + 0.001 * c - dark);
        }
    assert_int_equal(bk_image_new(ROWS, COLS, &arena, &image, NULL), BK_OK);
    assert_int_equal(bk_gauss_blur(&sharp, BLUR_PX, &arena, &image, NULL), BK_OK);
    bk_random_seed(&random, seed);
    for (int32_t i = 0; i < ROWS * COLS; i++)
        image.px[i] += (float)(0.01 * bk_random_normal(&random));
    return image;
}

/* RMS difference of two pictures within 2 mm of the axis, away from its ends. */
static double distance(const bk_image *a, const bk_image *b)
{
    double sum = 0;
    int n = 0;
    for (int32_t r = (int32_t)(AXIS_ROW - 2 / MM); r <= AXIS_ROW + 2 / MM; r++)
        for (int32_t c = 30; c < COLS - 30; c++, n++)
            sum += pow((double)(a->px[r * COLS + c] - b->px[r * COLS + c]), 2);
    return sqrt(sum / n);
}

static void remove_wires(bk_image *image, int times)
{
    enum { N = 2 * (COLS - 40) };
    bk_curve axis = {BK_NEW(&arena, N, bk_pt_px, NULL), N, 0.5};
    for (int i = 0; i < N; i++)
        axis.points[i] = (bk_pt_px){20 + 0.5 * i, AXIS_ROW + 0.8}; /* not quite in the middle */
    for (int k = 0; k < times; k++)
        assert_int_equal(bk_wire_remove(image, &axis, WIRE_MM, MM, BLUR_PX, &arena, NULL), BK_OK);
}

static void test_wire__is_taken_out_and_the_lumen_stays(void **state)
{
    (void)state;
    for (int wires = 1; wires <= 2; wires++) {
        const bk_image clean = draw(3.2, 0, 5);
        bk_image with = draw(3.2, wires, 5); /* the same noise */
        const double before = distance(&with, &clean);
        assert_true(before > 0.02);
        remove_wires(&with, wires);
        assert_true(distance(&with, &clean) / before < 0.4);
    }
}

static void test_wire__none_changes_little(void **state)
{
    (void)state;
    const bk_image clean = draw(3.2, 0, 5), one = draw(3.2, 1, 5);
    bk_image touched = draw(3.2, 0, 5);
    remove_wires(&touched, 1);
    assert_true(distance(&touched, &clean) / distance(&one, &clean) < 0.35);
}

/* A limb with `sd` everywhere, known by four coefficients that do not err together. */
static void test_wire__widens_most_where_the_lumen_is_narrow(void **state)
{
    (void)state;
    enum { N = 40, M = 4 };
    bk_lumen_limb limb = {.n = N, .step_px = 0.5, .knots_n = M};
    limb.diameter_px = BK_NEW(&arena, N, double, NULL);
    limb.sd_px = BK_NEW(&arena, N, double, NULL);
    limb.basis = BK_NEW(&arena, N * M, double, NULL);
    limb.covariance = BK_NEW(&arena, M * M, double, NULL);
    for (int i = 0; i < N; i++) {
        limb.diameter_px[i] = (i < N / 2 ? 1.0 : 3.0) / MM;
        limb.sd_px[i] = 0.05 / MM;
        limb.basis[i * M + i / (N / M)] = 1;
    }
    for (int k = 0; k < M; k++)
        limb.covariance[k * M + k] = limb.sd_px[0] * limb.sd_px[0];
    assert_int_equal(bk_wire_widen(&limb, WIRE_MM, MM, &arena, NULL), BK_OK);
    /* plane geometry: an area of SD a is a diameter of SD a / (pi D / 2); a = 0.2 mm2 */
    for (int i = 0; i < N; i++) {
        const double d = i < N / 2 ? 1.0 : 3.0, expected = hypot(0.05, 0.2 / (0.5 * 3.14159265358979 * d));
        assert_near(limb.sd_px[i] * MM, expected, 1e-9);
        assert_near(limb.misfit[i], expected / 0.05, 1e-9);
        assert_near(sqrt(limb.covariance[i / (N / M) * (M + 1)]) * MM, expected, 1e-9);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_wire__is_taken_out_and_the_lumen_stays, start, stop),
        cmocka_unit_test_setup_teardown(test_wire__none_changes_little, start, stop),
        cmocka_unit_test_setup_teardown(test_wire__widens_most_where_the_lumen_is_narrow, start, stop),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
