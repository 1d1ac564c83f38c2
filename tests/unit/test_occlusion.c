/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Does contrast reach the click? Straight round lumens by their chord (Beer-Lambert, plane geometry), with noise. */
#include "support/arena.h"

#include <stdlib.h>

#include "base/random.h"
#include "core/anatomy/occlusion.h"
#include "core/anatomy/stitch.h"
#include "core/anatomy/stump.h"
#include "core/image/curve.h"
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

/* Dark (cost 1) where a vessel lies, 100 elsewhere: a main vessel along y = 60, a stump from it up to y = 40. 0.25 mm a px. */
static bk_router vessel_with_stump(bk_image *cost)
{
    assert_int_equal(bk_image_new(120, 120, &arena, cost, NULL), BK_OK);
    for (int y = 0; y < 120; y++)
        for (int x = 0; x < 120; x++)
            cost->px[y * 120 + x] = abs(y - 60) <= 3 || (abs(x - 60) <= 3 && y >= 40 && y < 60) ? 1.0F : 100.0F;
    return (bk_router){cost, 0.25, &arena, true};
}

/* Points about 1 px apart from a to b. */
static bk_path straight_path(bk_pt_px a, bk_pt_px b)
{
    const size_t n = (size_t)bk_px_distance(a, b) + 1;
    bk_path path = {BK_NEW(&arena, n, bk_pt_px, NULL), n, 1};
    for (size_t i = 0; i < n; i++) {
        const double t = (double)i / (double)(n - 1);
        path.points[i] = (bk_pt_px){a.x + t * (b.x - a.x), a.y + t * (b.y - a.y)};
    }
    return path;
}

static double nearest_to(const bk_path *path, bk_pt_px p)
{
    double least = INFINITY;
    for (size_t i = 0; i < path->n; i++)
        least = fmin(least, bk_px_distance(path->points[i], p));
    return least;
}

/* The click lies straight beyond the stump, 30 px; a straight way from the main vessel is not much longer. */
static void test_stump__leads_to_the_click_it_points_at(void **state)
{
    (void)state;
    bk_image cost;
    const bk_router r = vessel_with_stump(&cost);
    const bk_path main_path = straight_path((bk_pt_px){5, 60}, (bk_pt_px){115, 60});
    bk_path path = straight_path((bk_pt_px){85, 60}, (bk_pt_px){60, 10});
    assert_true(nearest_to(&path, (bk_pt_px){60, 41}) > 10);
    assert_int_equal(bk_stump_lead(&r, &main_path, false, &path, NULL), BK_OK);
    assert_true(nearest_to(&path, (bk_pt_px){60, 41}) < 4);
    assert_near(path.points[0].y, 60, 0);
    assert_near(path.points[path.n - 1].x, 60, 0);
    assert_near(path.points[path.n - 1].y, 10, 0);
    assert_near(bk_curve_length(path.points, path.n), 50, 4);
    /* beside the main vessel the gap is a seventh of that from the stump: no stump is gone for */
    path = straight_path((bk_pt_px){110, 60}, (bk_pt_px){110, 45});
    const bk_pt_px *const as_it_was = path.points;
    assert_int_equal(bk_stump_lead(&r, &main_path, false, &path, NULL), BK_OK);
    assert_ptr_equal(path.points, as_it_was);
}

/* A path that lies on a vessel all the way stays as it is. */
static void test_stump__leaves_an_open_vessel_alone(void **state)
{
    (void)state;
    bk_image cost;
    const bk_router r = vessel_with_stump(&cost);
    const bk_path main_path = straight_path((bk_pt_px){5, 60}, (bk_pt_px){115, 60});
    bk_path path = straight_path((bk_pt_px){60, 60}, (bk_pt_px){60, 42});
    const bk_pt_px *const as_it_was = path.points;
    assert_int_equal(bk_stump_lead(&r, &main_path, false, &path, NULL), BK_OK);
    assert_ptr_equal(path.points, as_it_was);
}

/* From the stump's end 28 px over nothing, in a half circle: pi/2 times too long. */
static void test_stump__draws_a_wandering_gap_straight(void **state)
{
    (void)state;
    bk_image cost;
    const bk_router r = vessel_with_stump(&cost);
    const bk_path main_path = straight_path((bk_pt_px){5, 60}, (bk_pt_px){115, 60});
    bk_path path = straight_path((bk_pt_px){60, 60}, (bk_pt_px){60, 0});
    for (size_t i = 21; i <= 49; i++) {
        const double a = 3.14159265358979 * ((double)i - 21) / 28;
        path.points[i] = (bk_pt_px){60 + 14 * sin(a), 25 + 14 * cos(a)};
    }
    path.n = 50;
    assert_int_equal(bk_stump_straighten(&r, &main_path, &path, NULL), BK_OK);
    assert_near(bk_curve_length(path.points, path.n), 49, 1e-9); /* from y = 60 to y = 11 */
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
        cmocka_unit_test_setup_teardown(test_stump__leads_to_the_click_it_points_at, start, stop),
        cmocka_unit_test_setup_teardown(test_stump__leaves_an_open_vessel_alone, start, stop),
        cmocka_unit_test_setup_teardown(test_stump__draws_a_wandering_gap_straight, start, stop),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests_name("occlusion", tests, NULL, NULL);
}
