/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Frame choice and tracking on pictures drawn here from formulas, where the answer is known. */
#include "support/check.h"

#include <stdlib.h>

#include "base/arena.h"
#include "base/random.h"
#include "core/image/filling.h"
#include "core/image/follow.h"
#include "core/image/linear.h"
#include "core/image/pick.h"
#include "core/image/tubes.h"

#define SIDE 240
#define MM 0.3 /* per px */

static bk_arena arena;

static int start_arena(void **state)
{
    (void)state;
    bk_arena_init(&arena, (size_t)256 << 20);
    return 0;
}

static int end_arena(void **state)
{
    (void)state;
    bk_arena_clear(&arena);
    return 0;
}

static bk_image blank(int32_t rows, int32_t cols, float value)
{
    bk_image image;
    bk_err err = {0};
    assert_int_equal(bk_image_new(rows, cols, &arena, &image, &err), BK_OK);
    for (int32_t i = 0; i < rows * cols; i++)
        image.px[i] = value;
    return image;
}

static double distance_to(double x, double y, const double s[4])
{
    const double dx = s[2] - s[0], dy = s[3] - s[1];
    const double t = fmin(1, fmax(0, ((x - s[0]) * dx + (y - s[1]) * dy) / (dx * dx + dy * dy)));
    return hypot(x - s[0] - t * dx, y - s[1] - t * dy);
}

typedef struct drawing {
    double filling, shift_x, shift_y, blur_px; /* half width of the edge */
    uint64_t seed;                             /* 0: no noise */
    double breath_px;                          /* the diaphragm has gone down by that */
} drawing;

static const double limbs[3][5] = {{60, 30, 110, 100, 5}, {110, 100, 190, 130, 4}, {110, 100, 100, 205, 3}};

/* Log intensity of a bright field with a bent fork in it, a rib that stands still, a diaphragm and a collimator. */
static bk_image draw(drawing d)
{
    bk_image image = blank(SIDE, SIDE, 6);
    bk_random random;
    bk_random_seed(&random, d.seed);
    for (int32_t r = 0; r < SIDE; r++)
        for (int32_t c = 0; c < SIDE; c++) {
            double depth = 0;
            for (size_t i = 0; i < 3; i++) {
                const double away = distance_to(c - d.shift_x, r - d.shift_y, limbs[i]);
                depth = fmax(depth, 0.5 / (1 + exp((away - limbs[i][4]) / fmax(d.blur_px, 0.3))));
            }
            const double rib = 0.08 * exp(-0.5 * pow((r - 0.1 * c - 150) / 12, 2)), diaphragm = r > 190 + d.breath_px + 0.1 * c ? 0.6 : 0;
            double v = 6 - d.filling * depth - rib - diaphragm + (d.seed ? 0.02 * bk_random_normal(&random) : 0);
            if (c < 18)
                v = 1; /* collimated */
            image.px[r * SIDE + c] = (float)v;
        }
    return image;
}

static void test_tubes__only_thin_dark_lines_answer(void **state)
{
    (void)state;
    const double distance[1] = {8};
    bk_image edge = blank(64, 64, 1), line = blank(64, 64, 1), disc = blank(64, 64, 1), bright = blank(64, 64, 1),
             out = blank(64, 64, 9);
    for (int32_t r = 0; r < 64; r++)
        for (int32_t c = 0; c < 64; c++) {
            edge.px[r * 64 + c] = c + r > 64 ? 0.0F : 1.0F;
            line.px[r * 64 + c] = abs(c - 32) < 3 ? 0.25F : 1.0F;
            bright.px[r * 64 + c] = abs(c - 32) < 3 ? 1.75F : 1.0F;
            disc.px[r * 64 + c] = hypot(r - 32, c - 32) < 5 ? 0.25F : 1.0F;
        }
    bk_tubes(&edge, distance, 1, &out);
    for (int i = 0; i < 64 * 64; i++)
        assert_near((double)out.px[i], 0, 0);
    bk_tubes(&line, distance, 1, &out);
    assert_near((double)bk_image_at(&out, 32, 32), 0.75, 1e-6);
    assert_near((double)bk_image_at(&out, 32, 44), 0, 0);
    bk_tubes(&disc, distance, 1, &out);
    assert_near((double)bk_image_at(&out, 32, 32), 0, 1e-6);
    bk_tubes(&bright, distance, 1, &out);
    assert_near((double)bk_image_at(&out, 32, 32), 0, 0);
}

static void test_pick__motion_is_the_shift_that_was_drawn(void **state)
{
    (void)state;
    bk_err err = {0};
    const double shifts[][2] = {{0, 0}, {3, -2}, {0.5, 0}, {-7, 6}, {1.25, 9.5}};
    const double distance[2] = {7, 13};
    bk_image still = draw((drawing){.filling = 1}), a = blank(SIDE, SIDE, 0), b = blank(SIDE, SIDE, 0);
    bk_tubes(&still, distance, 2, &a);
    for (size_t i = 0; i < sizeof shifts / sizeof shifts[0]; i++) {
        bk_image moved = draw((drawing){.filling = 1, .shift_x = shifts[i][0], .shift_y = shifts[i][1]});
        double px;
        bk_tubes(&moved, distance, 2, &b);
        assert_int_equal(bk_pick_motion(&a, &b, &arena, &px, &err), BK_OK);
        /* along a straight limb nothing is seen to move: at least the smallest movement across a limb is found */
        const double true_px = hypot(shifts[i][0], shifts[i][1]);
        double across_px = true_px;
        for (int k = 0; k < 3; k++) {
            const double x = limbs[k][2] - limbs[k][0], y = limbs[k][3] - limbs[k][1];
            across_px = fmin(across_px, fabs(shifts[i][0] * y - shifts[i][1] * x) / hypot(x, y));
        }
        if (px < across_px - 0.2 || px > true_px + 0.2)
            fail_msg("%.2f px was found, %.2f px was drawn", px, true_px);
    }
    bk_image nothing = blank(SIDE, SIDE, 0);
    double px;
    assert_int_equal(bk_pick_motion(&nothing, &nothing, &arena, &px, &err), BK_OK);
    assert_true(isnan(px));
}

static bk_pick_result pick(const drawing *drawings, int32_t n, const double *phase_pct)
{
    bk_err err = {0};
    bk_pick *p;
    bk_pick_result out;
    const bk_pick_options options = {.rows = SIDE, .cols = SIDE, .frames = n, .grey = BK_GREY_LINEAR, .mm_per_px = MM,
                                     .resting_speed_mm_s = 15};
    assert_int_equal(bk_pick_start(&options, &arena, &p, &err), BK_OK);
    for (int pass = 0; pass < 2; pass++)
        for (int32_t i = 0; i < n; i++) {
            const bk_image image = draw(drawings[i]);
            assert_int_equal(pass ? bk_pick_look(p, &image, &err) : bk_pick_learn(p, &image, &err), BK_OK);
        }
    assert_int_equal(bk_pick_finish(p, NULL, phase_pct, &out, &err), BK_OK);
    return out;
}

static void test_pick__filling_grows_with_contrast(void **state)
{
    (void)state;
    const drawing run[] = {{0, 0, 0, 0.8, 1, 0}, {0, 0, 0, 0.8, 2, 0}, {0.4, 0, 0, 0.8, 3, 0}, {0.7, 0, 0, 0.8, 4, 0}, {1, 0, 0, 0.8, 5, 0},
                           {1, 0, 0, 0.8, 6, 0}};
    const bk_pick_result r = pick(run, 6, NULL);
    assert_true(r.filling_changes);
    assert_true(r.frame[0].filling < 0.1 && r.frame[1].filling < 0.1);
    assert_true(r.frame[2].filling > 0.2 && r.frame[2].filling < 0.5);
    assert_true(r.frame[3].filling > 0.55 && r.frame[3].filling < 0.85);
    assert_near(r.frame[4].filling, 1, 0.03);
    assert_true(r.order[0] >= 5 && r.order[1] >= 5 && r.order[2] == 4 && r.order[3] == 3);
    assert_near(r.frame[0].sharpness, 0, 0);
    assert_true(isnan(r.frame[0].stillness));
}

static void test_pick__blur_and_motion_cost(void **state)
{
    (void)state;
    const drawing run[] = {{0, 0, 0, 0.8, 1, 0}, {1, 0, 0, 0.8, 2, 0}, {1, 0, 0, 0.8, 3, 0}, {1, 0, 0, 3, 4, 0},
                           {1, 0, 0, 0.8, 5, 0}, {1, 9, 2, 0.8, 6, 0}, {1, 0, 0, 0.8, 7, 0}};
    const bk_pick_result r = pick(run, 7, NULL);
    assert_true(r.frame[3].sharpness < 0.8 * r.frame[2].sharpness);
    assert_true(r.frame[2].stillness > 0.9);
    assert_true(r.frame[5].stillness < 0.5);
    /* 9.2 px of 0.3 mm both ways in 66.7 ms is 41 mm/s */
    assert_true(r.frame[5].speed_mm_s > 20 && r.frame[5].speed_mm_s < 46);
    assert_int_equal(r.order[0], 3);
    assert_int_equal(r.order[6], 1);
}

static void test_pick__end_diastole_is_preferred(void **state)
{
    (void)state;
    const drawing run[] = {{0, 0, 0, 0.8, 1, 0}, {1, 0, 0, 0.8, 2, 0}, {1, 0, 0, 0.8, 2, 0}, {1, 0, 0, 0.8, 2, 0}};
    const double phase[] = {NAN, 30, 80, 30};
    assert_int_equal(pick(run, 4, phase).order[0], 3);
    assert_near(bk_pick_diastole(80), 1, 0);
    assert_near(bk_pick_diastole(0), 1, 0);
    assert_near(bk_pick_diastole(30), 0, 0);
    assert_near(bk_pick_diastole(55), 0.5, 1e-12);
    assert_true(isnan(bk_pick_diastole(NAN)));
}

static void test_pick__alike_frames_are_told_apart_from_a_filling_run(void **state)
{
    (void)state;
    const drawing all_filled[] = {{1, 0, 0, 0.8, 1, 0}, {1, 0, 0, 0.8, 2, 0}, {1, 0, 0, 0.8, 3, 0}};
    const drawing none[] = {{0, 0, 0, 0.8, 1, 0}, {0, 0, 0, 0.8, 2, 0}, {0, 0, 0, 0.8, 3, 0}};
    bk_pick_result r = pick(all_filled, 3, NULL);
    assert_false(r.filling_changes);
    for (int i = 0; i < 3; i++)
        assert_true(r.frame[i].filling > 0.95 && r.frame[i].sharpness > 0.9);
    assert_false(pick(none, 3, NULL).filling_changes);
    r = pick(all_filled, 1, NULL);
    assert_int_equal(r.order[0], 1);
    assert_true(isnan(r.frame[0].stillness));
    assert_near(r.frame[0].filling, 1, 0);
}

static void test_pick__collimator_and_diaphragm_are_no_vessels(void **state)
{
    (void)state;
    const drawing run[] = {{0, 0, 0, 0.8, 1, 0}, {0, 0, 0, 0.8, 2, 6}, {0, 0, 0, 0.8, 3, 12}, {1, 0, 0, 0.8, 4, 18}};
    const bk_pick_result r = pick(run, 4, NULL);
    for (int i = 0; i < 3; i++)
        assert_near(r.frame[i].filling, 0, 0.05);
}

static void check_follow(double x, double y, uint64_t seed, double tolerance_px)
{
    const bk_pt_px clicks[3] = {{80.3, 58.1}, {160.2, 118.4}, {104.4, 160.9}};
    const bk_image a = draw((drawing){1, 0, 0, 0.8, seed, 0}), b = draw((drawing){0.9, x, y, 0.8, seed ? seed + 1 : 0, 0});
    bk_followed out[3];
    bk_err err = {0};
    assert_int_equal(bk_follow_points(&a, &b, clicks, 3, MM, &arena, out, &err), BK_OK);
    for (int i = 0; i < 3; i++) {
        const double off = hypot(out[i].at.x - clicks[i].x - x, out[i].at.y - clicks[i].y - y);
        if (!(off <= tolerance_px && out[i].match > 0.8 && out[i].left > 0.7))
            fail_msg("click %d is %.2f px off after a shift of %.1f,%.1f; match %.2f, left %.2f", i, off, x, y, out[i].match,
                     out[i].left);
    }
}

static void test_follow__clicks_go_with_the_vessel(void **state)
{
    (void)state;
    check_follow(0, 0, 0, 0.05);
    check_follow(3.4, -2.6, 0, 0.5);
    check_follow(-6.2, 7.7, 0, 0.5);
    check_follow(0.5, 0.5, 11, 0.5);
    check_follow(12, -14, 12, 0.8);
    check_follow(-2.5, 4.5, 13, 0.8);
}

static void test_follow__says_when_the_vessel_is_gone(void **state)
{
    (void)state;
    const bk_pt_px clicks[3] = {{80, 58}, {160, 118}, {104, 161}};
    const bk_image a = draw((drawing){1, 0, 0, 0.8, 1, 0}), b = draw((drawing){0, 0, 0, 0.8, 2, 0});
    bk_followed out[3];
    bk_err err = {0};
    assert_int_equal(bk_follow_points(&a, &b, clicks, 3, MM, &arena, out, &err), BK_OK);
    for (int i = 0; i < 3; i++)
        assert_true(out[i].match < BK_FOLLOW_MATCH || out[i].left < BK_FOLLOW_LEFT);
}

static void test_follow__points_at_the_border_are_answered(void **state)
{
    (void)state;
    const bk_pt_px corners[2] = {{0, 0}, {SIDE - 1, SIDE - 1}};
    const bk_image a = draw((drawing){1, 0, 0, 0.8, 1, 0});
    const bk_image tiny = blank(3, 3, 1);
    bk_followed out[2];
    bk_err err = {0};
    assert_int_equal(bk_follow_points(&a, &a, corners, 2, MM, &arena, out, &err), BK_OK);
    assert_int_equal(bk_follow_points(&tiny, &tiny, corners, 1, MM, &arena, out, &err), BK_OK);
    assert_true(out[0].left < BK_FOLLOW_LEFT);
}

#define TUBE_D 9.0 /* px */

/* Area of a circle of diameter d left of x, from its middle. */
static double circle_left_of(double x, double d)
{
    const double r = 0.5 * d, at = fmin(fmax(x, -r), r);
    return at * sqrt(r * r - at * at) + r * r * asin(at / r);
}

/* Log intensity of a level tube at row 120 in a field that brightens downwards: Beer-Lambert on chords. The contrast fills the tube, or,
   as long as the column is under `to`, lies twice as dense in a tube of half the area on its upper wall. */
static bk_image tube(double per_px, double to)
{
    bk_image image = blank(SIDE, SIDE, 0);
    for (int32_t r = 0; r < SIDE; r++)
        for (int32_t c = 0; c < SIDE; c++) {
            const bool jet = c < to;
            const double d = jet ? TUBE_D / sqrt(2) : TUBE_D, off = r - (jet ? 120 - 0.5 * (TUBE_D - d) : 120.0);
            const double chord = circle_left_of(off + 0.5, d) - circle_left_of(off - 0.5, d); /* mean over the pixel */
            image.px[r * SIDE + c] = (float)(5 + 0.002 * r - (jet ? 2 : 1) * per_px * chord);
        }
    return image;
}

static void areas_of(const bk_image *image, double area[BK_FILLING_BINS])
{
    bk_pt_px axis[160], normal[160];
    for (int i = 0; i < 160; i++) {
        axis[i] = (bk_pt_px){40 + i, 120};
        normal[i] = (bk_pt_px){0, -1};
    }
    bk_filling_areas(image, axis, normal, 160, 3, 0.5 * TUBE_D + 2, 4, area);
}

static void test_filling__is_density_times_area(void **state)
{
    (void)state;
    /* geometry: chords of a round tube sum to its area, pi D^2 / 4; the sum does not mind where in the tube the contrast lies */
    const double mu = 0.01, expected = mu * 3.14159265358979 * TUBE_D * TUBE_D / 4;
    const bk_image full = tube(mu, 0), jet = tube(mu, SIDE);
    double area[BK_FILLING_BINS];
    for (int k = 0; k < 2; k++) {
        areas_of(k ? &jet : &full, area);
        for (int b = 2; b < 40; b++)
            assert_near(area[b], expected, 0.01 * expected);
    }
    assert_true(isnan(area[BK_FILLING_BINS - 1])); /* the axis ends before */
    assert_true(isnan(area[0]) && isfinite(area[1])); /* it begins 3 px from the branch point */
}

/* Frames of a filled limb of 29 stretches; the last was not measured. */
enum { FRAMES = 5 };
static void fill_frames(double area[FRAMES][BK_FILLING_BINS])
{
    for (int k = 0; k < FRAMES; k++)
        for (int b = 0; b < BK_FILLING_BINS; b++)
            area[k][b] = b < 30 && k + 1 < FRAMES ? 10 : (double)NAN;
    area[2][12] = area[2][13] = 30; /* a vessel crosses */
    for (int k = 0; k < 4; k++)
        for (int b = 0; b < 4; b++)
            area[k][(b + k) % 4 + 4] = 2; /* a lesion, not quite at the same place */
}

static bk_filling compare(double area[FRAMES][BK_FILLING_BINS], size_t frames, size_t own, size_t first_bin)
{
    return bk_filling_compare((const double (*)[BK_FILLING_BINS])area, frames, own, first_bin);
}

static void test_filling__least_against_the_others(void **state)
{
    (void)state;
    double area[FRAMES][BK_FILLING_BINS];
    fill_frames(area);
    for (int b = 20; b < 30; b++)
        area[1][b] = 6; /* the end of the limb is not filled yet */
    const bk_filling f = compare(area, FRAMES, 1, 2);
    assert_near(f.ratio, 0.6, 1e-12);
    assert_true(f.best != 1 && f.best + 1 < FRAMES);
    for (size_t k = 0; k < 4; k++) {
        if (k != 1)
            assert_near(compare(area, FRAMES, k, 2).ratio, 1, 1e-12);
        assert_near(compare(area, FRAMES, k, 2).excess, 1, 1e-12);
    }
    assert_true(isnan(compare(area, 1, 0, 2).ratio)); /* nothing else to compare with */
    assert_true(isnan(compare(area, FRAMES, 0, 40).ratio));
}

static void test_filling__a_vessel_over_one_frame_is_no_filling_of_it(void **state)
{
    (void)state;
    double area[FRAMES][BK_FILLING_BINS];
    fill_frames(area);
    for (int b = 10; b < 30; b++)
        area[3][b] = 22;
    assert_near(compare(area, FRAMES, 3, 2).excess, 2.2, 1e-12);
    for (size_t k = 0; k < 3; k++)
        assert_near(compare(area, FRAMES, k, 2).excess, 1, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_tubes__only_thin_dark_lines_answer, start_arena, end_arena),
        cmocka_unit_test_setup_teardown(test_pick__motion_is_the_shift_that_was_drawn, start_arena, end_arena),
        cmocka_unit_test_setup_teardown(test_pick__filling_grows_with_contrast, start_arena, end_arena),
        cmocka_unit_test_setup_teardown(test_pick__blur_and_motion_cost, start_arena, end_arena),
        cmocka_unit_test_setup_teardown(test_pick__end_diastole_is_preferred, start_arena, end_arena),
        cmocka_unit_test_setup_teardown(test_pick__alike_frames_are_told_apart_from_a_filling_run, start_arena, end_arena),
        cmocka_unit_test_setup_teardown(test_pick__collimator_and_diaphragm_are_no_vessels, start_arena, end_arena),
        cmocka_unit_test_setup_teardown(test_follow__clicks_go_with_the_vessel, start_arena, end_arena),
        cmocka_unit_test_setup_teardown(test_follow__says_when_the_vessel_is_gone, start_arena, end_arena),
        cmocka_unit_test_setup_teardown(test_follow__points_at_the_border_are_answered, start_arena, end_arena),
        cmocka_unit_test_setup_teardown(test_filling__is_density_times_area, start_arena, end_arena),
        cmocka_unit_test_setup_teardown(test_filling__least_against_the_others, start_arena, end_arena),
        cmocka_unit_test_setup_teardown(test_filling__a_vessel_over_one_frame_is_no_filling_of_it, start_arena, end_arena),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
