/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Views: closed forms of plane geometry, simulation for the uncertainties, brute force for the valleys. */
#include "support/check.h"
#include "support/arena.h"

#include <stdlib.h>
#include <string.h>

#include "base/random.h"
#include "core/anatomy/space/carm.h"
#include "core/anatomy/space/look.h"
#include "core/anatomy/space/position.h"
#include "core/anatomy/space/second_view.h"
#include "core/anatomy/space/valleys.h"
#include "core/anatomy/space/views.h"
#include "core/num.h"

#define DEG (180 / 3.14159265358979323846)
#define FAR_SOD 1e5 /* rays are parallel to 0.01 degrees */
#define POINTS 41

typedef struct tree {
    bk_vec at[BK_LIMBS][POINTS];
    double diameter[BK_LIMBS][POINTS];
    bk_curve3 limb[BK_LIMBS];
} tree;

static void set_limb(tree *t, int limb, double diameter)
{
    for (int i = 0; i < POINTS; i++)
        t->diameter[limb][i] = diameter;
    t->limb[limb] = (bk_curve3){POINTS, t->at[limb], t->diameter[limb], NULL, 0, 0};
}

static void straight(tree *t, int limb, bk_vec from, bk_vec direction, double length, double diameter)
{
    for (int i = 0; i < POINTS; i++)
        t->at[limb][i] = bk_vec_along(from, length * i / (POINTS - 1), bk_vec_unit(direction));
    set_limb(t, limb, diameter);
}

/* Arc of a circle: from the branch point along `direction`, bending towards `bend`, through `turn` radians. */
static void arc(tree *t, int limb, bk_vec from, bk_vec direction, bk_vec bend, double length, double turn, double diameter)
{
    const bk_vec u = bk_vec_unit(direction), v = bk_vec_unit(bk_vec_along(bend, -bk_vec_dot(bend, u), u));
    const double radius = length / turn;
    for (int i = 0; i < POINTS; i++) {
        const double a = turn * i / (POINTS - 1);
        t->at[limb][i] = bk_vec_along(bk_vec_along(from, radius * sin(a), u), radius * (1 - cos(a)), v);
    }
    set_limb(t, limb, diameter);
}

/* Main vessel along z, side branch along x: seen in profile from the front, en face from the left. */
static void tee(tree *t)
{
    const bk_vec o = bk_vec_of(0, 0, 0);
    straight(t, BK_PROXIMAL, o, bk_vec_of(0, 0, 1), 25, 3.5);
    straight(t, BK_DISTAL, o, bk_vec_of(0, 0, -1), 30, 3.0);
    straight(t, BK_SIDE, o, bk_vec_of(1, 0, 0), 20, 2.5);
}

static bk_views_input wide(const tree *t, double sod_mm)
{
    return (bk_views_input){t->limb, sod_mm, {-60, 60}, {-40, 40}, 1, 0.1, 20, 2};
}

static bk_look look_from(const tree *t, double sod_mm, double primary, double secondary)
{
    static bk_look_scene scene;
    bk_err err = {0};
    bk_look look;
    if (bk_look_prepare(t->limb, sod_mm, &scene, &err) != BK_OK)
        fail_msg("%s", err.message);
    bk_look_at(&scene, primary, secondary, &look);
    return look;
}

/* ---- foreshortening ---- */

static void test_look__limb_across_along_and_oblique(void **state)
{
    (void)state;
    tree t;
    tee(&t);
    /* closed form: 1 - sin of the angle between limb and ray */
    const bk_look front = look_from(&t, FAR_SOD, 0, 0), left = look_from(&t, FAR_SOD, 90, 0), half = look_from(&t, FAR_SOD, 45, 0);
    assert_near(front.foreshortening[BK_PROXIMAL], 0, 1e-6);
    assert_near(front.foreshortening[BK_SIDE], 0, 1e-6);
    assert_near(left.foreshortening[BK_PROXIMAL], 0, 1e-6);
    assert_near(left.foreshortening[BK_SIDE], 1, 1e-3); /* floats: the sine of 1 - 6e-8 */
    assert_near(half.foreshortening[BK_SIDE], 1 - sqrt(0.5), 1e-4); /* the middle of the limb lies 7 mm aside in 1e5 mm */
    const bk_look above = look_from(&t, FAR_SOD, 0, 40);
    assert_near(above.foreshortening[BK_DISTAL], 1 - cos(40 / DEG), 1e-4); /* the limb leans 40 degrees out of the picture */
    assert_near(above.near_foreshortening[BK_DISTAL], 1 - cos(40 / DEG), 1e-4);
}

/* In cone geometry each piece is judged by its own ray: a limb parallel to the beam, 30 mm off it, still shows a little. */
static void test_look__uses_the_local_ray(void **state)
{
    (void)state;
    tree t;
    tee(&t);
    const double off = 30, length = 20;
    straight(&t, BK_SIDE, bk_vec_of(off, 0, 0), bk_vec_of(0, -1, 0), length, 2.5);
    straight(&t, BK_PROXIMAL, bk_vec_of(off, 0, 0), bk_vec_of(0, 0, 1), 25, 3.5);
    straight(&t, BK_DISTAL, bk_vec_of(off, 0, 0), bk_vec_of(0.2, 0, -1), 25, 3.5);
    const bk_look look = look_from(&t, 750, 0, 0);
    double seen = 0; /* the detector is in front (-y): the source lies at y = +750 */
    for (int i = 0; i < 20000; i++)
        seen += off / hypot(off, 750 + (i + 0.5) / 20000 * length) / 20000;
    assert_near(look.foreshortening[BK_SIDE], 1 - seen, 2e-5);
}

static void test_look__opposite_views_show_the_same(void **state)
{
    (void)state;
    bk_random random;
    bk_random_seed(&random, 11);
    for (int trial = 0; trial < 50; trial++) {
        tree t;
        tee(&t);
        const bk_vec o = bk_vec_of(0, 0, 0);
        for (int i = 0; i < BK_LIMBS; i++)
            arc(&t, i, o, bk_vec_sub(t.at[i][1], o), bk_vec_of(bk_random_normal(&random), bk_random_normal(&random), bk_random_normal(&random)), 25,
                bk_random_between(&random, 0.1, 1.2), 2.5);
        const double p = bk_random_between(&random, -90, 90), s = bk_random_between(&random, -60, 60);
        const bk_look one = look_from(&t, FAR_SOD, p, s), other = look_from(&t, FAR_SOD, p + 180, -s);
        for (int i = 0; i < BK_LIMBS; i++) {
            assert_near(one.foreshortening[i], other.foreshortening[i], 2e-4); /* 30 mm in 1e5 mm of rays, and floats */
            assert_near(one.covered[i], other.covered[i], 0.02);
        }
    }
}

/* Turning the bifurcation about the head-foot axis is the same as turning the C-arm the other way. */
static void test_look__turns_with_the_patient(void **state)
{
    (void)state;
    tree t, turned;
    const bk_vec o = bk_vec_of(0, 0, 0);
    arc(&t, BK_PROXIMAL, o, bk_vec_of(-0.3, 0.2, 1), bk_vec_of(1, 0, 0), 25, 0.6, 3.5);
    arc(&t, BK_DISTAL, o, bk_vec_of(0.3, 0.4, -1), bk_vec_of(0, 1, 0), 30, 0.8, 3);
    arc(&t, BK_SIDE, o, bk_vec_of(1, -0.2, -0.4), bk_vec_of(0, 1, 0.3), 22, 0.5, 2.5);
    turned = t;
    const double by = 33 / DEG; /* anatomy turns by +33 about z: the detector direction (sin a, -cos a) does so with a + 33 */
    for (int i = 0; i < BK_LIMBS; i++) {
        for (int k = 0; k < POINTS; k++) {
            const bk_vec p = t.at[i][k];
            turned.at[i][k] = bk_vec_of(cos(by) * p.v[0] - sin(by) * p.v[1], sin(by) * p.v[0] + cos(by) * p.v[1], p.v[2]);
        }
        turned.limb[i].at = turned.at[i];
        turned.limb[i].diameter_mm = turned.diameter[i];
    }
    const bk_look a = look_from(&t, 750, -20, 15), b = look_from(&turned, 750, 13, 15);
    for (int i = 0; i < BK_LIMBS; i++) {
        assert_near(a.foreshortening[i], b.foreshortening[i], 1e-5);
        assert_near(a.covered[i], b.covered[i], 1e-3);
    }
}

static bk_vec rotated(bk_vec p, bk_vec axis, double angle)
{
    const bk_vec k = bk_vec_unit(axis); /* Rodrigues' formula */
    const bk_vec a = bk_vec_times(cos(angle), p), b = bk_vec_times(sin(angle), bk_vec_cross(k, p));
    return bk_vec_along(bk_vec_along(a, 1, b), (1 - cos(angle)) * bk_vec_dot(k, p), k);
}

/* SD of the foreshortening: limbs turned at random about two axes across their chord, 3 degrees about each. */
static void test_look__foreshortening_sd_agrees_with_simulation(void **state)
{
    (void)state;
    bk_random random;
    bk_random_seed(&random, 4);
    const bk_vec o = bk_vec_of(0, 0, 0);
    const double views[][2] = {{0, 0}, {40, 10}, {-50, 30}, {80, -20}};
    tree t, s;
    tee(&t);
    arc(&t, BK_DISTAL, o, bk_vec_of(0.3, 0.4, -1), bk_vec_of(0, 1, 0), 30, 0.8, 3);
    const bk_vec chord = bk_vec_unit(bk_vec_sub(t.at[BK_DISTAL][POINTS - 1], o));
    const bk_vec across = bk_vec_unit(bk_vec_cross(chord, bk_vec_of(0, 1, 0))), third = bk_vec_cross(chord, across);
    for (size_t v = 0; v < 4; v++) {
        t.limb[BK_DISTAL].direction_sd_deg = 3;
        const double predicted = look_from(&t, 750, views[v][0], views[v][1]).foreshortening_sd[BK_DISTAL];
        double sum = 0, squares = 0;
        const int n = 4000;
        for (int k = 0; k < n; k++) {
            s = t;
            s.limb[BK_DISTAL].at = s.at[BK_DISTAL];
            const bk_vec turn = bk_vec_along(bk_vec_times(bk_random_normal(&random), across), bk_random_normal(&random), third);
            for (int i = 1; i < POINTS; i++)
                s.at[BK_DISTAL][i] = rotated(t.at[BK_DISTAL][i], turn, 3 / DEG * bk_vec_length(turn));
            const double f = look_from(&s, 750, views[v][0], views[v][1]).foreshortening[BK_DISTAL];
            sum += f;
            squares += f * f;
        }
        const double sd = sqrt(squares / n - pow(sum / n, 2));
        assert_near(predicted / sd, 1, 0.08); /* 1/sqrt(2 n) = 1.1 % by chance; the rest is the turn about the chord, and third order */
    }
}

/* Straight limb straight across the ray: 1 - cos e with e normal of SD s has the SD s^2/sqrt 2. */
static void test_look__foreshortening_sd_across_the_ray(void **state)
{
    (void)state;
    tree t;
    tee(&t);
    t.limb[BK_DISTAL].direction_sd_deg = 4;
    const bk_look look = look_from(&t, FAR_SOD, 0, 0);
    assert_near(look.foreshortening_sd[BK_DISTAL], pow(4 / DEG, 2) / sqrt(2), 2e-5); /* first order: the limb's middle is 15 mm aside in 1e5 */
    assert_near(look.foreshortening_sd[BK_SIDE], 0, 1e-12);
}

/* ---- overlap ---- */

/* The T: the side branch (radius 1.25) leaves the proximal limb's tube (1.75) at 3 mm, the distal one's (1.5) at 2.75 mm. */
static void test_look__joined_stretch_is_left_out(void **state)
{
    (void)state;
    static bk_look_scene scene;
    tree t;
    bk_err err = {0};
    tee(&t);
    assert_int_equal(bk_look_prepare(t.limb, 750, &scene, &err), BK_OK);
    const bk_look_limb *side = &scene.limb[BK_SIDE];
    assert_near(side->joined_mm, 3.0, 0.3); /* a piece is 0.5 mm, judged at its middle */
    assert_near(side->free_total, 20 - side->joined_mm, 1e-4);
    assert_near(side->near_free_total, 8, 1e-4);
    assert_near(side->total, 20, 1e-4);
    assert_near(side->near_total, 8, 1e-4);
}

/* The side branch leaves backwards and then runs along the distal limb, `behind` mm behind it. */
static void parallel_tubes(tree *t, double behind)
{
    tee(t);
    for (int i = 0; i < POINTS; i++) {
        const double s = 30.0 * i / (POINTS - 1);
        t->at[BK_SIDE][i] = s < behind ? bk_vec_of(0, s, 0) : bk_vec_of(0, behind, behind - s);
    }
    set_limb(t, BK_SIDE, 2.0);
    set_limb(t, BK_DISTAL, 3.0);
}

static void test_look__parallel_tubes_cover_each_other(void **state)
{
    (void)state;
    tree t;
    parallel_tubes(&t, 6);
    /* seen from primary a the axes lie 6 sin a apart, the tubes touch at (3 + 2) / 2 = 2.5 mm: a = 24.6 degrees */
    static bk_look_scene scene;
    bk_err err = {0};
    bk_look look;
    assert_int_equal(bk_look_prepare(t.limb, 1e4, &scene, &err), BK_OK);
    for (int side = -1; side <= 1; side += 2) {
        bk_look_at(&scene, side * 23.5, 0, &look);
        int leg = 0, covered = 0;
        for (int k = 0; k < scene.limb[BK_SIDE].n; k++)
            if (scene.limb[BK_SIDE].at[2][k] < -4) { /* on the leg, away from its ends */
                leg++;
                covered += look.gap_z[BK_SIDE][k] < 0;
            }
        assert_true(leg > 20 && covered == leg);
        bk_look_at(&scene, side * 26.0, 0, &look);
        covered = 0;
        for (int k = 0; k < scene.limb[BK_SIDE].n; k++)
            covered += scene.limb[BK_SIDE].at[2][k] < -4 && look.gap_z[BK_SIDE][k] < 0;
        assert_int_equal(covered, 0);
    }
}

/* The gap in SDs: two tubes whose places are each known to 0.4 mm, nothing else uncertain. */
static void test_look__gap_is_told_in_sds(void **state)
{
    (void)state;
    tree t;
    parallel_tubes(&t, 6);
    t.limb[BK_SIDE].position_sd_mm = t.limb[BK_DISTAL].position_sd_mm = 0.4;
    const double a = 35, gap = 6 * sin(a / DEG) - 2.5, sd = sqrt(2 * 0.4 * 0.4 + 0.05 * 0.05);
    static bk_look_scene scene;
    bk_err err = {0};
    bk_look look;
    assert_int_equal(bk_look_prepare(t.limb, 1e4, &scene, &err), BK_OK);
    bk_look_at(&scene, a, 0, &look);
    int seen = 0;
    for (int k = 0; k < scene.limb[BK_SIDE].n; k++)
        if (scene.limb[BK_SIDE].at[2][k] < -4 && scene.limb[BK_SIDE].at[2][k] > -20) {
            assert_near((double)look.gap_z[BK_SIDE][k], gap / sd, 0.06); /* nearest pieces lie up to 1/4 mm aside */
            seen++;
        }
    assert_true(seen > 20);
}

/* Certainty that the stretch is clear, against limbs turned at random. The errors of pieces are taken to move together,
   which a turn does; simulated with 2 degrees. */
static void test_views__certainty_agrees_with_simulation(void **state)
{
    (void)state;
    bk_random random;
    bk_random_seed(&random, 8);
    const bk_vec o = bk_vec_of(0, 0, 0);
    const double turn_deg = 2;
    tree t, s;
    tee(&t);
    straight(&t, BK_SIDE, o, bk_vec_of(1, 0.3, -1), 24, 2.5);
    for (int i = 0; i < BK_LIMBS; i++)
        t.limb[i].direction_sd_deg = turn_deg;
    const double views[][2] = {{64, 0}, {68, 0}, {72, 0}, {76, 0}};
    for (size_t v = 0; v < 4; v++) {
        bk_view said, now;
        bk_err err = {0};
        bk_views_input in = wide(&t, 750);
        in.overlap_tolerated = 0.25;
        assert_int_equal(bk_views_judge(&in, BK_VIEW_CARINA, views[v][0], views[v][1], &arena, &said, &err), BK_OK);
        int clear = 0;
        const int n = 400;
        for (int k = 0; k < n; k++) {
            s = t;
            for (int i = 0; i < BK_LIMBS; i++) {
                const bk_vec c = bk_vec_unit(t.at[i][POINTS - 1]), across = bk_vec_unit(bk_vec_cross(c, bk_vec_of(0.3, 1, 0.2)));
                const bk_vec turn = bk_vec_along(bk_vec_times(bk_random_normal(&random), across), bk_random_normal(&random), bk_vec_cross(c, across));
                for (int j = 1; j < POINTS; j++)
                    s.at[i][j] = rotated(t.at[i][j], turn, turn_deg / DEG * bk_vec_length(turn));
                s.limb[i].at = s.at[i];
                s.limb[i].diameter_mm = s.diameter[i];
            }
            in.limb = s.limb;
            const bk_arena_mark mark = bk_arena_take_mark(&arena);
            assert_int_equal(bk_views_judge(&in, BK_VIEW_CARINA, views[v][0], views[v][1], &arena, &now, &err), BK_OK);
            bk_arena_rewind(&arena, mark);
            clear += now.overlap_pct <= 25;
        }
        assert_near(said.clear_certainty_pct, 100.0 * clear / n, 9); /* from 97 to 10 %; by chance 2.5 points, twice that; a turn does not
                                                                            move all pieces by the same number of SDs: 4 more */
    }
}

/* ---- what positions are for ---- */

static bk_view judged(const tree *t, int purpose, double primary, double secondary)
{
    bk_view out;
    bk_err err = {0};
    const bk_views_input in = wide(t, FAR_SOD);
    if (bk_views_judge(&in, purpose, primary, secondary, &arena, &out, &err) != BK_OK)
        fail_msg("%s", err.message);
    return out;
}

static void test_views__en_face_and_profile_are_told_apart(void **state)
{
    (void)state;
    tree t;
    tee(&t);
    const struct {
        double primary, secondary;
        int sight;
        double ostium_deg;
    } table[] = {{0, 0, BK_SIGHT_PROFILE, 90},   {180, 0, BK_SIGHT_PROFILE, 90}, {90, 0, BK_SIGHT_EN_FACE, 0}, {-90, 0, BK_SIGHT_EN_FACE, 0},
                 {0, 90, BK_SIGHT_END_ON, 90},   {45, 0, BK_SIGHT_OBLIQUE, 45},  {25, 0, BK_SIGHT_PROFILE, 65}, {65, 0, BK_SIGHT_EN_FACE, 25}};
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        const bk_view v = judged(&t, BK_VIEW_RECROSS, table[i].primary, table[i].secondary);
        assert_int_equal(v.sight, table[i].sight);
        assert_near(v.ostium_deg, table[i].ostium_deg, 0.02);
    }
}

/* The mouth lies in the wall of the main vessel, whatever the branch does: a branch at 45 degrees has its mouth en face from the left too. */
static void test_views__mouth_is_in_the_main_vessels_wall(void **state)
{
    (void)state;
    tree t;
    tee(&t);
    straight(&t, BK_SIDE, bk_vec_of(0, 0, 0), bk_vec_of(1, 0, -1), 20, 2.5);
    assert_near(judged(&t, BK_VIEW_RECROSS, 90, 0).ostium_deg, 0, 0.02);
    assert_near(judged(&t, BK_VIEW_RECROSS, 90, -40).ostium_deg, 40, 0.02);
}

/* The angle between shadows: daughters at right angles, one leaning; tan = tan / cos in closed form. */
static void test_views__angle_as_seen(void **state)
{
    (void)state;
    tree t;
    tee(&t);
    const bk_vec o = bk_vec_of(0, 0, 0);
    straight(&t, BK_SIDE, o, bk_vec_of(1, 0, -1), 20, 2.5); /* 45 degrees from the distal limb, in the frontal plane */
    assert_near(judged(&t, BK_VIEW_CARINA, 0, 0).distal_side_deg, 45, 0.02);
    assert_near(judged(&t, BK_VIEW_CARINA, 60, 0).distal_side_deg, DEG * atan(cos(60 / DEG)), 0.02);
    assert_near(judged(&t, BK_VIEW_CARINA, 0, 30).distal_side_deg, DEG * atan(1 / cos(30 / DEG)), 0.02);
}

/* The SDs of what is seen of the branching: two limbs at right angles, each known to 2 degrees about either axis. */
static void test_views__angle_sd(void **state)
{
    (void)state;
    tree t;
    tee(&t);
    t.limb[BK_DISTAL].direction_sd_deg = t.limb[BK_SIDE].direction_sd_deg = 2;
    const bk_view v = judged(&t, BK_VIEW_CARINA, 0, 0);
    assert_near(v.distal_side_sd_deg, 2 * sqrt(2), 0.02);
}

/* A flat bifurcation turned at random: the views that open the carina and show the mouth in profile look along the plane's normal. */
static void test_views__best_looks_along_the_normal(void **state)
{
    (void)state;
    bk_random random;
    bk_random_seed(&random, 21);
    const bk_vec o = bk_vec_of(0, 0, 0);
    for (int trial = 0; trial < 12; trial++) {
        const double primary = bk_random_between(&random, -50, 50), secondary = bk_random_between(&random, -30, 30);
        const bk_vec n = bk_carm_beam(primary, secondary), u = bk_vec_unit(bk_vec_cross(n, bk_vec_of(0, 0, 1))), v = bk_vec_cross(n, u);
        const double roll = bk_random_between(&random, 0, 6.28), open = bk_random_between(&random, 50, 80) / DEG;
        const bk_vec down = bk_vec_along(bk_vec_times(cos(roll), u), sin(roll), v), aside = bk_vec_cross(n, down);
        tree t;
        straight(&t, BK_PROXIMAL, o, bk_vec_times(-1, down), 25, 3.5);
        straight(&t, BK_DISTAL, o, bk_vec_along(down, -0.3, aside), 30, 3);
        straight(&t, BK_SIDE, o, bk_vec_along(bk_vec_times(cos(open), down), sin(open), aside), 25, 2.5);
        const bk_views_input in = wide(&t, 750);
        bk_views views;
        bk_err err = {0};
        assert_int_equal(bk_views_search(&in, &arena, &views, &err), BK_OK);
        const int purposes[] = {BK_VIEW_OSTIUM, BK_VIEW_CARINA};
        for (int i = 0; i < 2; i++) {
            const bk_view *best = &views.purpose[purposes[i]].best[0];
            assert_true(bk_views_apart_deg(best->primary_deg, best->secondary_deg, primary, secondary) < 3);
            assert_true(views.purpose[purposes[i]].optimum_in_reach && best->reachable);
            assert_int_equal(best->sight, BK_SIGHT_PROFILE);
        }
        const bk_view *main = &views.purpose[BK_VIEW_MAIN].best[0];
        assert_true(fmax(main->foreshortening_pct[0], main->foreshortening_pct[1]) < 0.5);
        assert_near(views.distal_side_deg, DEG * (open + atan(0.3)), 0.01);
    }
}

static void test_views__optimum_out_of_reach_and_next_best(void **state)
{
    (void)state;
    tree t;
    tee(&t); /* en face from the left or from the right: primary +-90, both out of reach */
    const bk_views_input in = wide(&t, 750);
    bk_views views;
    bk_err err = {0};
    assert_int_equal(bk_views_search(&in, &arena, &views, &err), BK_OK);
    const bk_views_purpose *recross = &views.purpose[BK_VIEW_RECROSS];
    assert_false(recross->optimum_in_reach);
    assert_false(recross->optimum.reachable);
    assert_near(fabs(recross->optimum.primary_deg), 90, 3);
    assert_near(recross->optimum.secondary_deg, 0, 3);
    assert_near(fabs(recross->best[0].primary_deg), 60, 1e-9); /* at the edge of the reach, on one side and on the other */
    assert_near(recross->best[0].loss, 1 - sin(60 / DEG), 0.01);
    assert_int_equal(recross->n, 2);
    assert_near(recross->best[1].primary_deg, -recross->best[0].primary_deg, 1e-9);
    assert_true(recross->best[1].another_valley);
    for (int p = 0; p < BK_PURPOSES; p++)
        for (int i = 0; i < views.purpose[p].n; i++) {
            const bk_view *a = &views.purpose[p].best[i];
            assert_true(a->reachable && fabs(a->primary_deg) <= 60 && fabs(a->secondary_deg) <= 40);
            assert_true(a->loss >= views.purpose[p].best[0].loss - 1e-6);
            for (int k = 0; k < i; k++) {
                const bk_view *b = &views.purpose[p].best[k];
                assert_true(bk_vec_angle_deg(bk_carm_beam(a->primary_deg, a->secondary_deg), bk_carm_beam(b->primary_deg, b->secondary_deg)) >= 20);
            }
        }
}

/* Of the two opposite views along the normal the one nearer to the reach is named, with what staying costs. */
static void test_views__optimum_is_the_nearer_of_two_opposite(void **state)
{
    (void)state;
    const bk_vec o = bk_vec_of(0, 0, 0);
    const double places[][2] = {{80, 15}, {-80, 15}, {75, -30}};
    for (int i = 0; i < 3; i++) {
        const bk_vec n = bk_carm_beam(places[i][0], places[i][1]), u = bk_vec_unit(bk_vec_cross(n, bk_vec_of(0, 0, 1))), v = bk_vec_cross(n, u);
        tree t;
        straight(&t, BK_PROXIMAL, o, u, 25, 3.5);
        straight(&t, BK_DISTAL, o, bk_vec_times(-1, u), 30, 3);
        straight(&t, BK_SIDE, o, bk_vec_along(v, -0.5, u), 25, 2.5);
        const bk_views_input in = wide(&t, 750);
        bk_views views;
        bk_err err = {0};
        assert_int_equal(bk_views_search(&in, &arena, &views, &err), BK_OK);
        const bk_views_purpose *carina = &views.purpose[BK_VIEW_CARINA];
        assert_false(carina->optimum_in_reach);
        assert_near(carina->optimum.primary_deg, places[i][0], 4);
        assert_near(carina->optimum.secondary_deg, places[i][1], 4);
        assert_true(carina->optimum.loss < carina->best[0].loss - 0.01);
        assert_near(carina->best[0].primary_deg, places[i][0] > 0 ? 60 : -60, 1e-9);
    }
}

/* No position of the reach is better than the best, and the map says what single positions say. */
static void test_views__best_is_best_and_map_agrees(void **state)
{
    (void)state;
    tree t;
    const bk_vec o = bk_vec_of(5, -10, 8);
    arc(&t, BK_PROXIMAL, o, bk_vec_of(-0.6, 0.3, 0.8), bk_vec_of(1, 0, 0), 25, 0.6, 3.5);
    arc(&t, BK_DISTAL, o, bk_vec_of(0.5, 0.5, -0.7), bk_vec_of(-0.6, 0.5, -0.5), 30, 0.8, 3);
    arc(&t, BK_SIDE, o, bk_vec_of(0.9, -0.1, -0.3), bk_vec_of(0, 1, 0.3), 22, 0.5, 2.5);
    const bk_views_input in = wide(&t, 750);
    bk_views views;
    bk_err err = {0};
    bk_view one;
    assert_int_equal(bk_views_search(&in, &arena, &views, &err), BK_OK);
    const bk_views_map *map = &views.map;
    assert_near(map->primary_from_deg, -80, 0);
    assert_int_equal(map->cols, 33);
    assert_int_equal(map->rows, 25);
    for (int at = 0; at < map->rows * map->cols; at += 7)
        for (int p = 0; p < BK_PURPOSES; p++) {
            const bk_arena_mark mark = bk_arena_take_mark(&arena);
            assert_int_equal(bk_views_judge(&in, p, map->primary_from_deg + at % map->cols * 5, map->secondary_from_deg + at / map->cols * 5,
                                            &arena, &one, &err),
                             BK_OK);
            bk_arena_rewind(&arena, mark);
            assert_near((double)map->loss[p][at], 100 * one.loss, 0.01);
            assert_near((double)map->foreshortening[1][at], one.foreshortening_pct[1], 0.01);
            assert_true(!one.reachable || one.loss >= views.purpose[p].best[0].loss - 1e-6);
            assert_true(one.loss >= views.purpose[p].optimum.loss - 0.01);
        }
}

static void test_views__refuses_what_cannot_be_judged(void **state)
{
    (void)state;
    tree t;
    bk_views views;
    bk_err err = {0};
    tee(&t);
    bk_views_input in = wide(&t, 750);
    in.primary_deg[0] = 60;
    assert_int_equal(bk_views_search(&in, &arena, &views, &err), BK_E_USAGE);
    assert_non_null(strstr(err.message, "primary limits 60 to 60"));
    err = (bk_err){0};
    in = wide(&t, 750);
    in.secondary_deg[1] = 100;
    assert_int_equal(bk_views_search(&in, &arena, &views, &err), BK_E_USAGE);
    err = (bk_err){0};
    in = wide(&t, 750);
    t.diameter[BK_SIDE][20] = 0;
    t.diameter[BK_SIDE][21] = -1;
    assert_int_equal(bk_views_search(&in, &arena, &views, &err), BK_E_DATA);
    assert_non_null(strstr(err.message, "side limb"));
    tee(&t);
    err = (bk_err){0};
    straight(&t, BK_SIDE, bk_vec_of(0, 0, 0), bk_vec_of(0.01, 0, -1), 20, 2.5);
    assert_int_equal(bk_views_search(&in, &arena, &views, &err), BK_E_DATA);
    assert_non_null(strstr(err.message, "distal main and side branch were found 0.6 degrees apart"));
    tee(&t);
    err = (bk_err){0};
    straight(&t, BK_SIDE, bk_vec_of(0, 0, 0), bk_vec_of(1, 0, 0), 1, 2.5);
    assert_int_equal(bk_views_search(&in, &arena, &views, &err), BK_E_DATA);
    tee(&t);
    err = (bk_err){0};
    arc(&t, BK_SIDE, bk_vec_of(0, 0, 0), bk_vec_of(1, 0, 0), bk_vec_of(0, 1, 0), 20, 6.28, 2.5);
    assert_int_equal(bk_views_search(&in, &arena, &views, &err), BK_E_DATA);
    assert_non_null(strstr(err.message, "comes back"));
    tee(&t);
    err = (bk_err){0};
    in.sod_mm = 110;
    assert_int_equal(bk_views_search(&in, &arena, &views, &err), BK_E_DATA);
    bk_arena small;
    bk_arena_init(&small, 100000);
    err = (bk_err){0};
    in = wide(&t, 750);
    assert_int_equal(bk_views_search(&in, &small, &views, &err), BK_E_LIMIT);
    bk_arena_clear(&small);
}

/* ---- valleys ---- */

enum { SIDE = 9, CELLS = SIDE * SIDE };

/* The lowest height one must climb to, to come from a to b: bottleneck paths, all pairs (Floyd and Warshall's scheme). */
static void passes(const float *height, double pass[CELLS][CELLS])
{
    for (int a = 0; a < CELLS; a++)
        for (int b = 0; b < CELLS; b++) {
            const bool next = abs(a / SIDE - b / SIDE) <= 1 && abs(a % SIDE - b % SIDE) <= 1;
            pass[a][b] = next ? fmax((double)height[a], (double)height[b]) : (double)INFINITY;
        }
    for (int k = 0; k < CELLS; k++)
        for (int a = 0; a < CELLS; a++)
            for (int b = 0; b < CELLS; b++)
                pass[a][b] = fmin(pass[a][b], fmax(pass[a][k], pass[k][b]));
}

static void test_valleys__agree_with_bottleneck_paths(void **state)
{
    (void)state;
    static double pass[CELLS][CELLS];
    bk_random random;
    bk_random_seed(&random, 2);
    int found = 0;
    for (int trial = 0; trial < 20; trial++) {
        float height[CELLS];
        for (int i = 0; i < CELLS; i++)
            height[i] = (float)bk_random_unit(&random);
        passes(height, pass);
        int bottom[CELLS], n;
        bk_err err = {0};
        assert_int_equal(bk_valleys(height, SIDE, SIDE, 0.2, &arena, bottom, CELLS, &n, &err), BK_OK);
        bool is_bottom[CELLS] = {false};
        for (int i = 0; i < n; i++) {
            is_bottom[bottom[i]] = true;
            assert_true(i == 0 || height[bottom[i]] >= height[bottom[i - 1]]);
        }
        for (int a = 0; a < CELLS; a++) {
            double climb = INFINITY;
            for (int b = 0; b < CELLS; b++)
                if (height[b] < height[a])
                    climb = fmin(climb, pass[a][b] - (double)height[a]);
            assert_int_equal(is_bottom[a], climb >= 0.2);
        }
        found += n;
    }
    assert_true(found > 60);
}

/* ---- the second view ---- */

static void test_second_view__factors_and_angles(void **state)
{
    (void)state;
    /* factors of the worst axis by angle between the views, computed elsewhere for a point error of 1 */
    const double table[][2] = {{15, 5.4}, {20, 4.1}, {25, 3.3}, {30, 2.7}, {45, 1.85}, {60, 1.41}, {90, 1.00}};
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        assert_near(bk_views_depth_error(table[i][0]), table[i][1], 0.05);
    assert_near(bk_views_apart_deg(0, 0, 30, 0), 30, 1e-9);
    assert_near(bk_views_apart_deg(0, 0, 180, 0), 0, 1e-5);
    assert_near(bk_views_apart_deg(0, 0, 150, 0), 30, 1e-9);
    assert_near(bk_views_apart_deg(0, 30, 0, -40), 70, 1e-9);
    assert_near(bk_views_apart_deg(30, 90, -70, 90), 0, 1e-5);
    assert_near(bk_views_apart_deg(-45, 0, 45, 0), 90, 1e-9);
}

static void test_second_view__regions(void **state)
{
    (void)state;
    const double primary[2] = {-60, 60}, secondary[2] = {-40, 40};
    bk_second_view s;
    bk_second_view_find(0, 0, 30, primary, secondary, &s);
    assert_int_equal(s.n, 17);
    const bk_second_row *level = &s.row[8];
    assert_near(level->secondary_deg, 0, 0);
    assert_int_equal(level->n, 2);
    assert_near(level->primary_deg[0][0], -60, 0);
    assert_near(level->primary_deg[0][1], -30, 0);
    assert_near(level->primary_deg[1][0], 30, 0);
    assert_near(level->primary_deg[1][1], 60, 0);
    assert_int_equal(s.row[16].n, 1); /* 40 cranial is far enough whatever the primary angle */
    assert_near(s.nearest.apart_deg, 30, 1e-6);
    assert_near(fabs(s.nearest.primary_deg) + fabs(s.nearest.secondary_deg), 30, 1e-9);
    int count = 0, all = 0; /* the same by the cosine of spherical geometry */
    for (int p = -60; p <= 60; p++)
        for (int q = -40; q <= 40; q++) {
            all++;
            count += DEG * acos(cos(p / DEG) * cos(q / DEG)) >= 30 - 1e-9;
        }
    assert_near(s.share_pct, 100.0 * count / all, 1e-9);
    const double narrow[2] = {-10, 10}, level_only[2] = {-5, 5};
    bk_second_view_find(0, 0, 30, narrow, level_only, &s);
    assert_near(s.share_pct, 0, 0);
}

static void test_position__words(void **state)
{
    (void)state;
    const struct {
        double primary, secondary;
        const char *words;
    } table[] = {{30, 10, "LAO 30, cranial 10"}, {-25, -28.4, "RAO 25, caudal 28"}, {0, 0, "AP"}, {0, 20, "AP, cranial 20"},
                 {90, -0.2, "LAO 90"}};
    char words[BK_POSITION_WORDS];
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        assert_string_equal(bk_position_words(words, table[i].primary, table[i].secondary), table[i].words);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_look__limb_across_along_and_oblique),
        cmocka_unit_test(test_look__uses_the_local_ray),
        cmocka_unit_test(test_look__opposite_views_show_the_same),
        cmocka_unit_test(test_look__turns_with_the_patient),
        cmocka_unit_test(test_look__foreshortening_sd_agrees_with_simulation),
        cmocka_unit_test(test_look__foreshortening_sd_across_the_ray),
        cmocka_unit_test(test_look__joined_stretch_is_left_out),
        cmocka_unit_test(test_look__parallel_tubes_cover_each_other),
        cmocka_unit_test(test_look__gap_is_told_in_sds),
        cmocka_unit_test(test_views__certainty_agrees_with_simulation),
        cmocka_unit_test(test_views__en_face_and_profile_are_told_apart),
        cmocka_unit_test(test_views__mouth_is_in_the_main_vessels_wall),
        cmocka_unit_test(test_views__angle_as_seen),
        cmocka_unit_test(test_views__angle_sd),
        cmocka_unit_test(test_views__best_looks_along_the_normal),
        cmocka_unit_test(test_views__optimum_out_of_reach_and_next_best),
        cmocka_unit_test(test_views__optimum_is_the_nearer_of_two_opposite),
        cmocka_unit_test(test_views__best_is_best_and_map_agrees),
        cmocka_unit_test(test_views__refuses_what_cannot_be_judged),
        cmocka_unit_test(test_valleys__agree_with_bottleneck_paths),
        cmocka_unit_test(test_second_view__factors_and_angles),
        cmocka_unit_test(test_second_view__regions),
        cmocka_unit_test(test_position__words),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, start, stop);
}
