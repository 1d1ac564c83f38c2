/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Vessels carried from frame to frame, on movements and pictures made here from formulas, where the answer is known. */
#include "support/arena.h"

#include <string.h>

#include "core/anatomy/course.h"
#include "core/image/follow_line.h"
#include "core/image/linear.h"

#define MM 0.3 /* per px */
#define SIDE 240
#define LIMB 9
#define N ((size_t)3 * LIMB)

/* A fork of three straight limbs, points 6 px apart, moved by a linear map; each point found slid along by `slide`. */
static void make_fork(bk_pt_px *points, bk_pt_px *normal, bk_pt_px *truth, bk_followed *found, double slide)
{
    const double angle[3] = {3.0, -0.7, 0.8};
    for (size_t i = 0; i < N; i++) {
        const double a = angle[i / LIMB], s = 6 * (double)(i % LIMB);
        const bk_pt_px p = {120 + s * cos(a), 110 + s * sin(a)};
        points[i] = p;
        normal[i] = (bk_pt_px){sin(a), -cos(a)};
        truth[i] = (bk_pt_px){p.x + 4 + 0.03 * (p.x - 120), p.y - 3 + 0.04 * (p.x - 120) - 0.02 * (p.y - 110)};
        found[i] = (bk_followed){{truth[i].x + slide * cos(a), truth[i].y + slide * sin(a)}, 0.9, 1};
    }
}

static void test_settle__limbs_together_give_what_none_can_tell_alone(void **state)
{
    (void)state;
    bk_pt_px points[N], normal[N], truth[N], at[N];
    bk_followed found[N];
    bool seen[N];
    bk_err err = {0};
    make_fork(points, normal, truth, found, 4);
    for (size_t i = 2 * LIMB + 3; i < N; i++)
        found[i] = (bk_followed){{points[i].x + 15, points[i].y + 9}, 0.1, 1}; /* lost */
    found[4] = (bk_followed){{truth[4].x, truth[4].y + 12}, 0.95, 1};          /* found on something else */
    found[LIMB + 2].left = 0.4;                                                /* paler, still the same */
    assert_int_equal(bk_follow_settle(points, normal, found, N, MM, &arena, at, seen, &err), BK_OK);
    for (size_t i = 0; i < N; i++) {
        assert_int_equal(seen[i], i != 4 && i < 2 * LIMB + 3);
        const double dx = at[i].x - truth[i].x, dy = at[i].y - truth[i].y;
        const double across = fabs(dx * normal[i].x + dy * normal[i].y);
        /* every point was slid by 4 px along its limb; gradients that are held small leave some of that, along */
        if (across > 1 || hypot(dx, dy) > 3)
            fail_msg("point %zu is %.2f px off, %.2f across", i, hypot(dx, dy), across);
    }
}

static void test_settle__without_points_seen_nothing_breaks(void **state)
{
    (void)state;
    bk_pt_px points[N], normal[N], truth[N], at[N];
    bk_followed found[N];
    bool seen[N];
    bk_err err = {0};
    make_fork(points, normal, truth, found, 0);
    for (size_t i = 0; i < N; i++)
        found[i].match = 0;
    assert_int_equal(bk_follow_settle(points, normal, found, N, MM, &arena, at, seen, &err), BK_OK);
    for (size_t i = 0; i < N; i++)
        assert_true(!seen[i] && isfinite(at[i].x) && isfinite(at[i].y));
}

/* Log intensity: bright, with soft dark tubes of a depth and a sigma of 2 px along y = y0 + slope x + bend x^2. */
static bk_image draw(const double (*tube)[4], int n)
{
    bk_image image;
    bk_err err = {0};
    assert_int_equal(bk_image_new(SIDE, SIDE, &arena, &image, &err), BK_OK);
    for (int32_t r = 0; r < SIDE; r++)
        for (int32_t c = 0; c < SIDE; c++) {
            double dark = 0;
            for (int i = 0; i < n; i++) {
                const double y = tube[i][0] + tube[i][1] * c + tube[i][2] * c * c, slope = tube[i][1] + 2 * tube[i][2] * c;
                const double off = (r - y) / sqrt(1 + slope * slope);
                dark += tube[i][3] * exp(-off * off / 8);
            }
            image.px[r * SIDE + c] = (float)(7 - dark + 1e-3 * ((r * 37 + c * 101) % 17)); /* noise has to be there */
        }
    return image;
}

static void test_aside__a_line_goes_to_its_vessel_not_to_a_darker_one(void **state)
{
    (void)state;
    const double before[1][4] = {{120, 0, 0, 0.5}};
    const double after[2][4] = {{112, 0.1, 0, 0.5}, {130, 0, 0, 1.5}}; /* swung off; a darker one lies near */
    bk_pt_px was[10], at[10];
    bk_err err = {0};
    for (int i = 0; i < 10; i++) {
        was[i] = (bk_pt_px){60 + 7 * i, 120};
        at[i] = (bk_pt_px){60 + 7 * i, 118};
    }
    const bk_image a = draw(before, 1), b = draw(after, 1), crowded = draw(after, 2);
    bk_pt_px alone[10], beside[10];
    memcpy(alone, at, sizeof alone);
    memcpy(beside, at, sizeof beside);
    assert_int_equal(bk_follow_aside(&a, &b, was, alone, 10, MM, &arena, &err), BK_OK);
    assert_int_equal(bk_follow_aside(&a, &crowded, was, beside, 4, MM, &arena, &err), BK_OK);
    for (int i = 0; i < 10; i++)
        assert_near(alone[i].y, 112 + 0.1 * alone[i].x, 1.5);
    for (int i = 0; i < 4; i++)
        assert_near(beside[i].y, 112 + 0.1 * beside[i].x, 2);
    assert_near(alone[0].y, 118, 0); /* the first one stays */
}

static void test_course__distances_are_those_of_plane_geometry(void **state)
{
    (void)state;
    const bk_course course = {.at = {{{0, 0}, {10, 0}, {10, 10}}, {{0, 0}}}, .n = {3, 1, 0}};
    assert_near(bk_course_distance(&course, (bk_pt_px){5, 3}), 3, 1e-12);
    assert_near(bk_course_distance(&course, (bk_pt_px){13, 14}), 5, 1e-12);
    assert_near(bk_course_aside(&course, 0, (bk_pt_px){13, 14}), 3, 1e-6); /* beyond the end, aside counts alone */
    assert_near(bk_course_aside(&course, 0, (bk_pt_px){-40, 2}), 2, 1e-6);
    assert_near(bk_course_aside(&course, 1, (bk_pt_px){-40, 2}), 0, 0);
    const bk_course moved = bk_course_moved(&course, 1, 2), none = {0};
    assert_near(bk_course_distance(&moved, (bk_pt_px){6, 5}), 3, 1e-12);
    assert_true(isinf(bk_course_distance(&none, (bk_pt_px){0, 0})));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_settle__limbs_together_give_what_none_can_tell_alone, start, stop),
        cmocka_unit_test_setup_teardown(test_settle__without_points_seen_nothing_breaks, start, stop),
        cmocka_unit_test_setup_teardown(test_aside__a_line_goes_to_its_vessel_not_to_a_darker_one, start, stop),
        cmocka_unit_test(test_course__distances_are_those_of_plane_geometry),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
