/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/arena.h"

#include <string.h>

#include "base/random.h"
#include "core/anatomy/space/doubts.h"
#include "core/anatomy/space/solid.h"

#define PI 3.14159265358979323846

static bk_carm carm_at(double primary, double secondary)
{
    bk_carm c = {.primary_deg = primary, .secondary_deg = secondary, .sid_mm = 1050, .sod_mm = 750, .spacing_mm = {0.25, 0.25},
                 .rows = 512, .cols = 512};
    assert_int_equal(bk_carm_set(&c, NULL), BK_OK);
    return c;
}

/* Plane geometry: postero-anterior at 0/0 (detector in front: PS3.3 C.8.7.5), 90/0 from the patient's left, 0/90 from the head. */
static void test_carm__looks_along_the_axes(void **state)
{
    (void)state;
    const bk_carm front = carm_at(0, 0), left = carm_at(90, 0), head = carm_at(0, 90);
    assert_near(front.beam.v[1], -1, 1e-15);
    assert_near(left.beam.v[0], 1, 1e-15);
    assert_near(head.beam.v[2], 1, 1e-15);
    const bk_pt_px centre = bk_carm_project(&front, bk_vec_of(0, 0, 0));
    assert_near(centre.x, 255.5, 1e-12);
    assert_near(centre.y, 255.5, 1e-12);
    const bk_pt_px to_left = bk_carm_project(&front, bk_vec_of(10, 0, 0)), to_head = bk_carm_project(&front, bk_vec_of(0, 0, 10));
    assert_near(to_left.x, 255.5 + 10 * 1.4 / 0.25, 1e-9); /* magnified by SID / SOD */
    assert_near(to_head.y, 255.5 - 10 * 1.4 / 0.25, 1e-9);
    assert_near(bk_carm_mm_per_px(&front, bk_vec_of(0, -75, 0)), 0.25 * 825 / 1050, 1e-12);
}

static void test_carm__rays_angles_and_derivatives_agree_with_the_projection(void **state)
{
    (void)state;
    bk_random random;
    bk_random_seed(&random, 11);
    for (int k = 0; k < 200; k++) {
        const bk_carm c = carm_at(bk_random_between(&random, -80, 80), bk_random_between(&random, -45, 45));
        const bk_vec p = bk_vec_of(bk_random_between(&random, -30, 30), bk_random_between(&random, -30, 30), bk_random_between(&random, -30, 30));
        bk_vec d[2];
        const bk_pt_px at = bk_carm_project_with(&c, p, &d[0], &d[1]);
        assert_near(bk_vec_angle_deg(bk_carm_ray(&c, at), bk_vec_sub(p, c.source)), 0, 1e-6);
        double primary, secondary;
        bk_carm_angles(c.beam, &primary, &secondary);
        assert_near(primary, c.primary_deg, 1e-9);
        assert_near(secondary, c.secondary_deg, 1e-9);
        for (int x = 0; x < 3; x++) {
            bk_vec q = p;
            q.v[x] += 1e-4;
            const bk_pt_px moved = bk_carm_project(&c, q);
            assert_near((moved.x - at.x) / 1e-4, d[0].v[x], 1e-4);
            assert_near((moved.y - at.y) / 1e-4, d[1].v[x], 1e-4);
        }
    }
}

static void test_carm__two_rays_meet_where_the_point_is(void **state)
{
    (void)state;
    const bk_carm a = carm_at(-30, 20), b = carm_at(25, -10);
    const bk_vec p = bk_vec_of(3, -14, 8);
    double gap;
    const bk_vec q = bk_carm_meet(&a, bk_carm_project(&a, p), &b, bk_carm_project(&b, p), &gap);
    assert_near(gap, 0, 1e-9);
    assert_near(bk_vec_length(bk_vec_sub(p, q)), 0, 1e-9);
    const bk_carm moved = bk_carm_for_moved(&b, bk_vec_times(4.5, bk_match_across(&a, &b)));
    assert_near(bk_match_shift(&a, bk_carm_project(&a, p), &b, bk_carm_project(&moved, p)), 4.5, 1e-9);
}

/* An ellipse of half axes a and b is seen a^2 cos^2 f + b^2 sin^2 f wide (its support function). */
static void test_section__of_known_ellipses(void **state)
{
    (void)state;
    const bk_section_width round[2] = {{3, 0.05, 0.3}, {3, 0.05, 1.4}};
    const bk_section r = bk_section_of(round, 2);
    assert_near(r.diameter_mm, 3, 1e-9);
    assert_near(r.sd_mm, 0.05 / sqrt(2), 1e-9);
    const bk_section_width across[2] = {{2, 0.001, 0}, {3, 0.001, PI / 2}};
    const bk_section e = bk_section_of(across, 2);
    assert_near(e.minor_mm, 2, 0.01);
    assert_near(e.major_mm, 3, 0.01);
    assert_near(e.diameter_mm * e.diameter_mm, 6, 0.02);
    const bk_section_width near[2] = {{2, 0.05, 0}, {2.2, 0.05, 30 * PI / 180}};
    const bk_section n = bk_section_of(near, 2);
    assert_near(n.minor_mm, n.major_mm, 0);
    assert_near(n.spread_deg, 30, 1e-9);
    assert_true(n.unround > e.unround);
    double width[3];
    for (int k = 0; k < 3; k++)
        width[k] = 2 * hypot(1.4 * cos(k * PI / 3 - 0.5), 0.9 * sin(k * PI / 3 - 0.5));
    const bk_section_width three[3] = {{width[0], 0.001, 0}, {width[1], 0.001, PI / 3}, {width[2], 0.001, 2 * PI / 3}};
    const bk_section t = bk_section_of(three, 3);
    assert_near(t.major_mm, 2.8, 0.01);
    assert_near(t.minor_mm, 1.8, 0.01);
}

/* ---- a bifurcation of three known curves, seen exactly ---- */

enum { SAMPLES = 160 };
#define RUN_MM 28.0

/* Limbs that bend in space: arcs of circles, 25 to 40 mm in radius, from the branch point on. */
static bk_vec known(size_t limb, double s)
{
    static const double heading[BK_LIMBS][3] = {{-1, 0.1, 0.2}, {0.95, -0.2, -0.3}, {0.6, 0.7, 0.35}};
    static const double bend[BK_LIMBS][3] = {{0.1, 1, 0.3}, {0.2, 0.4, 1}, {-0.5, 0.1, 1}};
    const double radius[BK_LIMBS] = {40, 30, 25};
    const bk_vec t = bk_vec_unit(bk_vec_of(heading[limb][0], heading[limb][1], heading[limb][2]));
    bk_vec n = bk_vec_of(bend[limb][0], bend[limb][1], bend[limb][2]);
    n = bk_vec_unit(bk_vec_along(n, -bk_vec_dot(n, t), t));
    const double angle = s / radius[limb];
    const bk_vec branch = bk_vec_of(5, -8, 12);
    return bk_vec_along(bk_vec_along(branch, radius[limb] * sin(angle), t), radius[limb] * (1 - cos(angle)), n);
}

static double known_diameter(size_t limb, double s)
{
    const double healthy = limb == BK_PROXIMAL ? 3.5 : limb == BK_DISTAL ? 3.0 : 2.4;
    return healthy * (1 - (limb == BK_PROXIMAL ? 0 : 0.6) * exp(-0.5 * (s - 12) * (s - 12) / 4));
}

static void see(const bk_carm *carm, bk_vec shift, double end_mm, bk_sight *out)
{
    const bk_carm moved = bk_carm_for_moved(carm, shift);
    *out = (bk_sight){.carm = *carm, .branch_sd_px = 0.1};
    for (size_t limb = 0; limb < BK_LIMBS; limb++) {
        double *const x = BK_NEW(&arena, 5 * SAMPLES, double, NULL), *const y = x + SAMPLES, *const d = y + SAMPLES, *const sd = d + SAMPLES, *const ref = sd + SAMPLES;
        const bk_pt_px branch = bk_carm_project(&moved, known(limb, 0));
        for (size_t k = 0; k < SAMPLES; k++) {
            const double s = 2.0 + (end_mm - 2.0) * (double)k / (SAMPLES - 1);
            const bk_vec p = known(limb, s);
            const bk_pt_px at = bk_carm_project(&moved, p);
            x[k] = at.x;
            y[k] = at.y;
            d[k] = known_diameter(limb, s) / bk_carm_mm_per_px(&moved, p);
            sd[k] = 0.1;
            ref[k] = known_diameter(limb, 40) / bk_carm_mm_per_px(&moved, p);
        }
        const bk_sight_profile profile = {SAMPLES, x, y, d, sd, ref, 1.0, 0.1, 0.1, false};
        assert_int_equal(bk_sight_limb_new(branch, &profile, &arena, &out->limb[limb], NULL), BK_OK);
    }
}

static const bk_space_options options = {.turn_sd_deg = 0.3, .shift_sd_mm = 8, .covariance = true};
static const bk_space_limits limits = {25, 30, 8};

static bk_space_solid rebuilt(const bk_sight *sight, size_t views)
{
    bk_space_solid solid;
    assert_int_equal(bk_space_solid_new(sight, views, &options, &arena, &solid, NULL), BK_OK);
    return solid;
}

static void check_known(const bk_space_solid *solid, double end_mm, double tolerance)
{
    for (size_t limb = 0; limb < BK_LIMBS; limb++) {
        const bk_space_limb *const l = &solid->limb[limb];
        assert_near(l->length_mm.value, end_mm, 6 * tolerance);
        for (size_t k = 0; k < l->n; k++)
            assert_near(bk_vec_length(bk_vec_sub(l->point[k], known(limb, l->position_mm[k]))), 0, 10 * tolerance);
        const double mld = limb == BK_PROXIMAL ? 3.5 : known_diameter(limb, 12);
        assert_near(l->mld_mm.value, mld, 0.02 * mld);
        if (limb != BK_PROXIMAL)
            assert_near(l->mld_position_mm, 12, 0.5);
    }
    const bk_vec o = known(0, 0), d = bk_vec_sub(known(BK_DISTAL, 8), o), s = bk_vec_sub(known(BK_SIDE, 8), o), p = bk_vec_sub(known(0, 8), o);
    assert_near(solid->distal_side_deg.value, bk_vec_angle_deg(d, s), 100 * tolerance);
    assert_near(solid->proximal_side_deg.value, bk_vec_angle_deg(p, s), 100 * tolerance);
    assert_near(solid->proximal_distal_deg.value, bk_vec_angle_deg(p, d), 100 * tolerance);
}

/* The same curves seen from two and three sides without noise come out as they are; so with a shift across the epipolar
   planes, which is found. */
static void test_space__rebuilds_known_curves(void **state)
{
    (void)state;
    bk_sight sight[3];
    const bk_carm a = carm_at(-20, 25), b = carm_at(25, 10), c = carm_at(5, -30);
    see(&a, bk_vec_of(0, 0, 0), RUN_MM, &sight[0]);
    see(&b, bk_vec_of(0, 0, 0), RUN_MM, &sight[1]);
    see(&c, bk_vec_of(0, 0, 0), RUN_MM, &sight[2]);
    const bk_space_solid two = rebuilt(sight, 2), three = rebuilt(sight, 3);
    check_known(&two, RUN_MM, 0.02);
    check_known(&three, RUN_MM, 0.02);
    assert_true(three.limb[BK_SIDE].length_mm.sd < two.limb[BK_SIDE].length_mm.sd);
    see(&b, bk_vec_times(6, bk_match_across(&a, &b)), RUN_MM, &sight[1]);
    const bk_space_solid moved = rebuilt(sight, 2);
    check_known(&moved, RUN_MM, 0.02);
    assert_near(moved.fit.shift_mm[1], 6, 0.1);
}

/* Clicks at other places in the second view: the limb ends where the first of both views ends. */
static void test_space__ends_with_the_shorter_view(void **state)
{
    (void)state;
    bk_sight sight[2];
    const bk_carm a = carm_at(-20, 25), b = carm_at(25, 10);
    see(&a, bk_vec_of(0, 0, 0), RUN_MM, &sight[0]);
    see(&b, bk_vec_of(0, 0, 0), 21, &sight[1]);
    const bk_space_solid solid = rebuilt(sight, 2);
    check_known(&solid, 21, 0.03);
}

static bool doubted(const bk_sight *sight, size_t views, const char *code)
{
    const bk_space_solid solid = rebuilt(sight, views);
    bk_space_doubts doubts;
    assert_int_equal(bk_space_doubts_find(sight, views, &options, &limits, &solid, &arena, &doubts, NULL), BK_OK);
    bool found = strcmp(code, "none") == 0 && doubts.n == 0;
    for (size_t k = 0; k < doubts.n; k++)
        found = found || strcmp(doubts.doubt[k].code, code) == 0;
    return found;
}

static void test_doubts__name_what_is_wrong(void **state)
{
    (void)state;
    bk_sight sight[2];
    const bk_carm a = carm_at(-20, 25), b = carm_at(25, 10), near = carm_at(-4, 20);
    see(&a, bk_vec_of(0, 0, 0), RUN_MM, &sight[0]);
    see(&b, bk_vec_of(0, 0, 0), RUN_MM, &sight[1]);
    assert_true(doubted(sight, 2, "none"));
    sight[1].carm = carm_at(-25, 10);
    assert_true(doubted(sight, 2, "primary_sign"));
    sight[1].carm = b;
    const bk_sight_limb distal = sight[1].limb[BK_DISTAL];
    sight[1].limb[BK_DISTAL] = sight[1].limb[BK_SIDE];
    sight[1].limb[BK_SIDE] = distal;
    assert_true(doubted(sight, 2, "limbs_swapped"));
    see(&b, bk_vec_times(14, bk_match_across(&a, &b)), RUN_MM, &sight[1]);
    assert_true(doubted(sight, 2, "shift_large"));
    see(&near, bk_vec_of(0, 0, 0), RUN_MM, &sight[1]);
    assert_true(doubted(sight, 2, "views_near"));
}

static void test_space__gives_back_a_full_arena_as_a_limit(void **state)
{
    (void)state;
    bk_sight sight[2];
    const bk_carm a = carm_at(-20, 25), b = carm_at(25, 10);
    see(&a, bk_vec_of(0, 0, 0), RUN_MM, &sight[0]);
    see(&b, bk_vec_of(0, 0, 0), RUN_MM, &sight[1]);
    bk_arena small;
    bk_space_solid solid;
    bk_err err = {0};
    bk_arena_init(&small, 30000);
    assert_int_equal(bk_space_solid_new(sight, 2, &options, &small, &solid, &err), BK_E_LIMIT);
    bk_arena_clear(&small);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_carm__looks_along_the_axes),
        cmocka_unit_test(test_carm__rays_angles_and_derivatives_agree_with_the_projection),
        cmocka_unit_test(test_carm__two_rays_meet_where_the_point_is),
        cmocka_unit_test(test_section__of_known_ellipses),
        cmocka_unit_test(test_space__rebuilds_known_curves),
        cmocka_unit_test(test_space__ends_with_the_shorter_view),
        cmocka_unit_test(test_doubts__name_what_is_wrong),
        cmocka_unit_test(test_space__gives_back_a_full_arena_as_a_limit),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, start, stop);
}
