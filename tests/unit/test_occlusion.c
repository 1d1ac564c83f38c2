/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Does contrast reach the click? Straight round lumens by their chord (Beer-Lambert, plane geometry), with noise. */
#include "support/arena.h"

#include "base/random.h"
#include "core/anatomy/occlusion.h"
#include "core/anatomy/stitch.h"
#include "core/image/linear.h"

#define MM_PER_PX 0.2
#define LENGTH_MM 30.0
#define DENSITY_PER_MM 0.2

/* Three level limbs one above the other; the third has this diameter from `from` to `to` mm. */
typedef struct scene {
    bk_image log_image;
    bk_trace trace;
} scene;

static void draw_scene(scene *s, double diameter_mm, double from_mm, double to_mm, double noise)
{
    bk_random random;
    const int32_t rows = 300, cols = 190;
    assert_int_equal(bk_image_new(rows, cols, &arena, &s->log_image, NULL), BK_OK);
    bk_random_seed(&random, 7);
    const size_t n = (size_t)(LENGTH_MM / MM_PER_PX / 0.5);
    for (int i = 0; i < BK_LIMBS; i++) {
        s->trace.limb[i] = (bk_curve){BK_NEW(&arena, n, bk_pt_px, NULL), n, 0.5};
        s->trace.radius_px[i] = BK_NEW(&arena, n, double, NULL);
        for (size_t k = 0; k < n; k++) {
            s->trace.limb[i].points[k] = (bk_pt_px){20 + 0.5 * (double)k, 60 + 90 * i};
            s->trace.radius_px[i][k] = 1.25 / MM_PER_PX;
        }
    }
    for (int32_t r = 0; r < rows; r++)
        for (int32_t c = 0; c < cols; c++) {
            double dark = 0;
            for (int i = 0; i < BK_LIMBS; i++) {
                const double s_mm = (c - 20) * MM_PER_PX, x = (r - 60 - 90 * i) * MM_PER_PX;
                const double d = i == BK_SIDE && s_mm >= from_mm && s_mm < to_mm ? diameter_mm : 2.5;
                dark += x * x < d * d / 4 ? DENSITY_PER_MM * 2 * sqrt(d * d / 4 - x * x) : 0;
            }
            s->log_image.px[(size_t)r * (size_t)cols + (size_t)c] = (float)(7 - dark + noise * bk_random_normal(&random));
        }
}

static bk_patency side_of(scene *s)
{
    bk_patency out[BK_LIMBS];
    assert_int_equal(bk_patency_find(&s->log_image, &s->trace, MM_PER_PX, &arena, out, NULL), BK_OK);
    assert_false(out[BK_PROXIMAL].occluded);
    assert_false(out[BK_DISTAL].occluded);
    return out[BK_SIDE];
}

static double mm_of(size_t sample)
{
    return (double)sample * 0.5 * MM_PER_PX;
}

static void test_occlusion__an_open_limb_is_open(void **state)
{
    (void)state;
    scene s = {0};
    draw_scene(&s, 2.5, 0, 0, 0.02);
    const bk_patency side = side_of(&s);
    assert_false(side.occluded);
    assert_false(side.doubtful);
}

static void test_occlusion__a_gap_is_found_with_its_ends(void **state)
{
    (void)state;
    scene s = {0};
    draw_scene(&s, 0, 10, 18, 0.02);
    const bk_patency side = side_of(&s);
    assert_true(side.occluded);
    assert_true(side.refills);
    assert_near(mm_of(side.stop), 10, 0.6);
    assert_near(mm_of(side.refill), 18, 0.6);
    assert_true(side.seen_least_mm > 0.1 && side.seen_least_mm < 0.5);
}

static void test_occlusion__no_refill_before_the_click(void **state)
{
    (void)state;
    scene s = {0};
    draw_scene(&s, 0, 10, 99, 0.02);
    const bk_patency side = side_of(&s);
    assert_true(side.occluded);
    assert_false(side.refills);
}

static void test_occlusion__a_thread_of_half_a_millimetre_is_open(void **state)
{
    (void)state;
    scene s = {0};
    draw_scene(&s, 0.5, 8, 20, 0.02);
    assert_false(side_of(&s).occluded);
}

static void test_occlusion__a_short_gap_is_a_doubt(void **state)
{
    (void)state;
    scene s = {0};
    draw_scene(&s, 0, 10, 12.4, 0.005);
    const bk_patency side = side_of(&s);
    assert_false(side.occluded);
    assert_true(side.doubtful);
    assert_near(mm_of(side.doubt), 11, 1);
}

/* Two pieces side by side: values follow each other, coefficients do not mix. */
static void test_stitch__joins_two_pieces(void **state)
{
    (void)state;
    bk_pt_px points[3] = {{1, 0}, {2, 0}, {3, 0}};
    double d[3] = {4, 5, 6}, basis[6] = {1, 2, 3, 4, 5, 6}, one[1] = {9}, covariance[4] = {1, 0.5, 0.5, 2};
    const bk_lumen_limb inner = {.n = 3, .axis = points, .normal = points, .diameter_px = d, .sd_px = d, .knots_n = 2,
                                 .basis = basis, .covariance = covariance};
    const bk_lumen_limb outer = {.n = 1, .axis = points, .normal = points, .diameter_px = one, .sd_px = one, .knots_n = 1,
                                 .basis = one, .covariance = one};
    bk_lumen_limb whole;
    assert_int_equal(bk_lumen_stitch(&inner, &outer, &arena, &whole, NULL), BK_OK);
    assert_int_equal(whole.n, 4);
    assert_int_equal(whole.knots_n, 3);
    assert_near(whole.diameter_px[3], 9, 0);
    assert_near(whole.basis[1 * 3 + 1], 4, 0);
    assert_near(whole.basis[1 * 3 + 2], 0, 0);
    assert_near(whole.basis[3 * 3 + 2], 9, 0);
    assert_near(whole.covariance[0 * 3 + 1], 0.5, 0);
    assert_near(whole.covariance[2 * 3 + 2], 9, 0);
    assert_near(whole.covariance[0 * 3 + 2], 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_occlusion__an_open_limb_is_open, start, stop),
        cmocka_unit_test_setup_teardown(test_occlusion__a_gap_is_found_with_its_ends, start, stop),
        cmocka_unit_test_setup_teardown(test_occlusion__no_refill_before_the_click, start, stop),
        cmocka_unit_test_setup_teardown(test_occlusion__a_thread_of_half_a_millimetre_is_open, start, stop),
        cmocka_unit_test_setup_teardown(test_occlusion__a_short_gap_is_a_doubt, start, stop),
        cmocka_unit_test_setup_teardown(test_stitch__joins_two_pieces, start, stop),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests_name("occlusion", tests, NULL, NULL);
}
