/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/arena.h"

#include <string.h>

#include "base/random.h"
#include "core/anatomy/angles.h"
#include "core/anatomy/branch.h"
#include "core/anatomy/calibration.h"
#include "core/anatomy/medina.h"
#include "core/anatomy/reference.h"
#include "core/image/cine.h"
#include "core/image/gauss.h"
#include "core/image/linear.h"
#include "core/image/path.h"
#include "core/image/ridge.h"
#include "core/image/smooth.h"

#define THIRD_OF_BAR_PX 0.4 /* the bar of the branch point is 0.3 mm RMS, 1.2 px here */

/* Three straight limbs from a known point, at known angles: plane geometry. */
static void straight_limbs(bk_curve limb[BK_LIMBS], bk_pt_px o, const double deg[BK_LIMBS], double from_px)
{
    for (int i = 0; i < BK_LIMBS; i++) {
        limb[i] = (bk_curve){BK_NEW(&arena, 120, bk_pt_px, NULL), 120, 0.5};
        for (size_t k = 0; k < 120; k++) {
            const double s = from_px + 0.5 * (double)k, a = deg[i] / 57.29577951308232;
            limb[i].points[k] = (bk_pt_px){o.x + s * cos(a), o.y + s * sin(a)};
        }
    }
}

/* The same as fitted limbs of 12 px. */
static void fitted_limbs(bk_lumen_limb fitted[BK_LIMBS], const bk_curve limb[BK_LIMBS])
{
    for (int i = 0; i < BK_LIMBS; i++) {
        fitted[i] = (bk_lumen_limb){.n = limb[i].n, .step_px = limb[i].step_px, .axis = limb[i].points};
        fitted[i].diameter_px = BK_NEW(&arena, limb[i].n, double, NULL);
        for (size_t k = 0; k < limb[i].n; k++)
            fitted[i].diameter_px[k] = 12;
    }
}

static void test_branch__finds_the_meeting_point_of_straight_limbs(void **state)
{
    (void)state;
    const bk_pt_px o = {101.3, 87.6};
    const double deg[BK_LIMBS] = {180, 10, 60};
    const size_t alone[BK_LIMBS] = {0, 0, 0};
    bk_curve limb[BK_LIMBS];
    bk_lumen_limb fitted[BK_LIMBS];
    bk_branch branch;
    straight_limbs(limb, o, deg, 8);
    fitted_limbs(fitted, limb);
    assert_int_equal(bk_branch_find(fitted, alone, 0.25, &arena, &branch, NULL), BK_OK);
    assert_near(branch.point.x, o.x, 0.01);
    assert_near(branch.point.y, o.y, 0.01);
    straight_limbs(limb, o, deg, 0);
    const bk_spread_px spread = {0.04, 0, 0.04};
    const bk_qty angle = bk_projected_angle(&limb[BK_DISTAL], &limb[BK_SIDE], o, 30, &spread);
    assert_near(angle.value, 50, 1e-6);
    assert_near(bk_projected_angle(&limb[BK_PROXIMAL], &limb[BK_SIDE], o, 30, &spread).value, 120, 1e-6);
    assert_int_equal(angle.origin, BK_PROJECTED);
}

/* An arc of radius R through o: x = R sin(s/R), y = R (1 - cos(s/R)), turned. Closed form. */
static void test_branch__continues_bent_limbs(void **state)
{
    (void)state;
    const bk_pt_px o = {101.3, 87.6};
    const double deg[BK_LIMBS] = {180, 10, 60}, radius[BK_LIMBS] = {300, -200, 250}; /* 50 to 75 mm */
    const size_t alone[BK_LIMBS] = {8, 8, 8};
    bk_curve limb[BK_LIMBS];
    bk_lumen_limb fitted[BK_LIMBS];
    bk_branch branch;
    straight_limbs(limb, o, deg, 0);
    for (int i = 0; i < BK_LIMBS; i++)
        for (size_t k = 0; k < 120; k++) {
            const double s = 8 + 0.5 * (double)k, a = deg[i] / 57.29577951308232;
            const double u = radius[i] * sin(s / radius[i]), v = radius[i] * (1 - cos(s / radius[i]));
            limb[i].points[k] = (bk_pt_px){o.x + u * cos(a) - v * sin(a), o.y + u * sin(a) + v * cos(a)};
        }
    fitted_limbs(fitted, limb);
    assert_int_equal(bk_branch_find(fitted, alone, 0.25, &arena, &branch, NULL), BK_OK);
    assert_near(branch.point.x, o.x, THIRD_OF_BAR_PX); /* continued straight on it is 2.8 px off */
    assert_near(branch.point.y, o.y, THIRD_OF_BAR_PX);
}

/* A lesion on one wall takes half the lumen and moves its middle by a quarter of the diameter; the vessel's
   axis, and so the branch point, stays: plane geometry. What overlaps with the parent is worth little. */
static void test_branch__is_not_moved_by_a_lesion_on_one_wall(void **state)
{
    (void)state;
    const bk_pt_px o = {101.3, 87.6};
    const double deg[BK_LIMBS] = {180, 10, 60};
    const size_t alone[BK_LIMBS] = {8, 8, 8};
    bk_curve limb[BK_LIMBS];
    bk_lumen_limb fitted[BK_LIMBS];
    bk_branch branch;
    straight_limbs(limb, o, deg, 8);
    fitted_limbs(fitted, limb);
    for (size_t k = 20; k < 60; k++) { /* 18 to 38 px from the branch point */
        const double part = 0.5 * (1 - cos(0.314159265 * (double)(k - 20) / 2));
        fitted[BK_SIDE].diameter_px[k] -= 6 * part;
        limb[BK_SIDE].points[k].x += 3 * part * sin(60 / 57.29577951308232);
        limb[BK_SIDE].points[k].y -= 3 * part * cos(60 / 57.29577951308232);
    }
    assert_int_equal(bk_branch_find(fitted, alone, 0.25, &arena, &branch, NULL), BK_OK);
    assert_near(branch.point.x, o.x, THIRD_OF_BAR_PX); /* with equal weights it is 13 px off */
    assert_near(branch.point.y, o.y, THIRD_OF_BAR_PX);
    const double with_lesion = branch.spread.xx;
    straight_limbs(limb, o, deg, 8);
    fitted_limbs(fitted, limb);
    assert_int_equal(bk_branch_find(fitted, alone, 0.25, &arena, &branch, NULL), BK_OK);
    assert_true(branch.spread.xx < with_lesion);
    bk_err why = {0};
    const size_t too_late[BK_LIMBS] = {8, 8, 116};
    assert_int_equal(bk_branch_find(fitted, too_late, 0.25, &arena, &branch, &why), BK_E_NOTHING);
    assert_non_null(strstr(why.message, "too short"));
    const double along[BK_LIMBS] = {180, 0, 0};
    straight_limbs(limb, o, along, 8);
    fitted_limbs(fitted, limb);
    assert_int_equal(bk_branch_find(fitted, alone, 0.25, &arena, &branch, NULL), BK_E_NOTHING);
}

/* Two parallel walls a distance d apart hold a circle of diameter d: plane geometry. */
static void test_core__of_a_straight_tube_is_its_width(void **state)
{
    (void)state;
    const bk_pt_px o = {100, 100};
    const double deg[BK_LIMBS] = {180, 0, 90};
    bk_curve limb[BK_LIMBS];
    bk_tube tube[BK_LIMBS];
    double wide[120], thin[120];
    for (int k = 0; k < 120; k++) {
        wide[k] = 14;
        thin[k] = 0.5;
    }
    straight_limbs(limb, o, deg, 0);
    for (int i = 0; i < BK_LIMBS; i++)
        tube[i] = (bk_tube){limb[i], i == BK_SIDE ? thin : wide};
    bk_core core;
    assert_int_equal(bk_core_find(tube, o, &arena, &core, NULL), BK_OK);
    assert_near(core.radius_px, 7, 0.1);
    assert_near(core.ostium_px[BK_PROXIMAL], 7, 0.3);
}

static void test_medina__probabilities_are_those_of_normals(void **state)
{
    (void)state;
    /* P(Z > 1) = 0.158655 (normal table); 60 +- 10, 50 +- 10, 20 +- 5 against 50 */
    const bk_qty s[BK_LIMBS] = {{60, 10, BK_MEASURED}, {50, 10, BK_MEASURED}, {20, 5, BK_MEASURED}};
    int digits[BK_LIMBS], n;
    bk_medina_way ways[BK_MEDINA_WAYS];
    bk_medina_classify(s, 50, digits, ways, &n);
    assert_true(digits[0] == 1 && digits[1] == 1 && digits[2] == 0);
    double sum = 0;
    for (int i = 0; i < n; i++)
        sum += ways[i].probability_pct;
    assert_near(sum, 100, 1);
    assert_near(ways[0].probability_pct, 100 * (1 - 0.158655) * 0.5, 0.01);
}

static void test_reference__ignores_a_lesion(void **state)
{
    (void)state;
    enum { N = 300 };
    double d[N], sd[N];
    bk_random random;
    bk_random_seed(&random, 3);
    for (int i = 0; i < N; i++) {
        const double s = 0.1 * i; /* a healthy taper of 3 mm - 0.01 mm/mm, and a cosine lesion of 60 % over 10 mm */
        const double lesion = fabs(s - 12) < 5 ? 0.3 * (1 + cos((s - 12) / 5 * 3.14159265)) : 0;
        d[i] = (3 - 0.01 * s) * (1 - lesion) + 0.02 * bk_random_normal(&random);
        sd[i] = 0.02;
    }
    bk_reference line;
    assert_int_equal(bk_reference_fit(d, sd, NULL, N, 0.1, &arena, &line, NULL), BK_OK);
    assert_near(bk_reference_at(&line, 12), 2.88, 0.03);
    assert_near(line.slope, -0.01, 0.004);
    assert_int_equal(bk_reference_fit(d, sd, NULL, 5, 0.1, &arena, &line, NULL), BK_E_NOTHING);
}

/* A healthy limb of 12 mm whose diameters carry slow noise within its SD is healthy, however it was seen; a stretch that was
   seen worse counts less. */
static void test_reference__rests_on_a_limb_seen_dimly(void **state)
{
    (void)state;
    enum { N = 120 };
    double d[N], sd[N];
    for (int k = 0; k < 3; k++) {
        const double noise = k == 0 ? 0.01 : 0.1;
        for (int i = 0; i < N; i++) {
            d[i] = 1.4 + 0.8 * noise * sin(2 * 3.14159265 * i / 20.0);
            sd[i] = k == 2 && i < N / 2 ? 10 * noise : noise;
        }
        bk_reference line;
        assert_int_equal(bk_reference_fit(d, sd, NULL, N, 0.1, &arena, &line, NULL), BK_OK);
        assert_near(bk_reference_at(&line, 6), 1.4, noise);
        assert_near(line.healthy_mm, k == 2 ? 5.5 : 11, 1);
    }
}

/* Ripples that are noise: however they fall, a healthy limb of 12 mm rests on most of itself, and its line is found. */
static void test_reference__settles_on_rippled_limbs(void **state)
{
    (void)state;
    enum { N = 120, DRAWS = 300 };
    double d[N], sd[N], worst = 12, squares = 0;
    bk_random random;
    bk_random_seed(&random, 8);
    for (int draw = 0; draw < DRAWS; draw++) {
        double phase[4];
        for (int k = 0; k < 4; k++)
            phase[k] = bk_random_between(&random, 0, 6.2831853);
        for (int i = 0; i < N; i++) {
            d[i] = 2.4;
            sd[i] = 0.08;
            for (int k = 0; k < 4; k++)
                d[i] += 0.05 * sin((1.3 + 0.7 * k) * 0.1 * i + phase[k]);
        }
        bk_reference line;
        assert_int_equal(bk_reference_fit(d, sd, NULL, N, 0.1, &arena, &line, NULL), BK_OK);
        worst = fmin(worst, line.healthy_mm);
        squares += pow(bk_reference_at(&line, 6) - 2.4, 2) / DRAWS;
    }
    assert_true(worst > 8);
    assert_true(sqrt(squares) < 0.04);
}

/* A limb of a real run: 3 mm of healthy vessel of 3.6 mm, then a lesion, and 3.1 mm where the limb ends. It is not a scattered
   vessel of 2.8 mm. */
static void test_reference__is_not_drawn_into_a_long_lesion(void **state)
{
    (void)state;
    static const double seen[] = {3.63, 3.58, 3.55, 3.56, 3.60, 3.54, 3.26, 2.92, 2.63, 2.47, 2.37, 2.26,
                                  2.17, 2.23, 2.30, 2.19, 2.19, 2.38, 2.56, 2.71, 2.79, 2.94, 3.06};
    enum { EACH = 3, N = EACH * (sizeof seen / sizeof seen[0] - 1) + 1 };
    double d[N], sd[N];
    bool usable[N];
    for (int i = 0; i < N; i++) {
        const int k = i / EACH;
        d[i] = i + 1 < N ? seen[k] + (seen[k + 1] - seen[k]) * (i - k * EACH) / EACH : seen[k];
        sd[i] = 0.09;
        usable[i] = i >= 8;
    }
    bk_reference line;
    assert_int_equal(bk_reference_fit(d, sd, usable, N, 0.14, &arena, &line, NULL), BK_OK);
    assert_near(bk_reference_at(&line, 0.2), 3.5, 0.2);
}

static void test_scale__by_isocentre_is_the_standards(void **state)
{
    (void)state;
    const bk_evidence_set *evidence = bk_evidence_builtin();
    bk_scale_route r;
    /* PS3.17 FFF.1.3: spacing x SOD / SID */
    assert_true(bk_scale_by_isocentre(0.3, 750, 1000, evidence, &r));
    assert_near(r.mm_per_px, 0.225, 1e-12);
    assert_near(r.sd_pct, 1.333, 0.001); /* 1.3 % a cm at SOD 750 mm: similar triangles */
    assert_false(bk_scale_by_isocentre((double)NAN, 750, 1000, evidence, &r));
    assert_false(bk_scale_by_isocentre(0.3, 0, 1000, evidence, &r));
    bk_scale scale = {0};
    bk_scale_add(&scale, r);
    bk_scale_judge(&scale, evidence);
    assert_string_equal(bk_scale_agreement(&scale), "single");
    bk_scale_add(&scale, (bk_scale_route){BK_SCALE_ENTERED, 0.226, 0});
    bk_scale_judge(&scale, evidence);
    assert_string_equal(bk_scale_agreement(&scale), "agree");
    assert_int_equal(scale.route[0].origin, BK_SCALE_ENTERED);
    bk_scale_add(&scale, (bk_scale_route){BK_SCALE_MARKER, 0.29, 4});
    bk_scale_judge(&scale, evidence);
    assert_string_equal(bk_scale_agreement(&scale), "disagree");
}

/* A drawn shaft of known width gives back its scale: 6 F = 2 mm (F/3, common practice). */
static void test_scale__by_catheter_reads_a_drawn_shaft(void **state)
{
    (void)state;
    bk_image image;
    assert_int_equal(bk_image_new(128, 128, &arena, &image, NULL), BK_OK);
    for (int r = 0; r < 128; r++)
        for (int c = 0; c < 128; c++) {
            const double x = c - 60.3, half = 4.2; /* 8.4 px wide */
            image.px[r * 128 + c] = (float)(5 - (fabs(x) < half ? 0.8 * sqrt(1 - x * x / (half * half)) : 0));
        }
    assert_int_equal(bk_gauss_blur(&image, 0.6, &arena, &image, NULL), BK_OK);
    bk_catheter catheter = {{60, 20, 60.5, 100}, 6, BK_YES};
    bk_scale_route r;
    assert_int_equal(bk_scale_by_catheter(&image, &catheter, bk_evidence_builtin(), &arena, &r, NULL), BK_OK);
    assert_near(r.mm_per_px, 2 / 8.4, 0.03 * 2 / 8.4);
    catheter.french = 60;
    assert_int_equal(bk_scale_by_catheter(&image, &catheter, bk_evidence_builtin(), &arena, &r, NULL), BK_E_USAGE);
}

/* Two walls of 0.2 mm of a 6 F shaft that holds what is around it: chords of two circles, by geometry. Edges alone would read the
   pair of walls a sixth too wide. */
static void test_scale__by_empty_catheter_reads_the_outer_wall(void **state)
{
    (void)state;
    bk_image image;
    assert_int_equal(bk_image_new(128, 128, &arena, &image, NULL), BK_OK);
    for (int r = 0; r < 128; r++)
        for (int c = 0; c < 128; c++) {
            const double x = c - 60.3, outer = 4.2, bore = 0.8 * outer;
            image.px[r * 128 + c] = (float)(5 - 0.05 * (sqrt(fmax(outer * outer - x * x, 0)) - sqrt(fmax(bore * bore - x * x, 0))));
        }
    assert_int_equal(bk_gauss_blur(&image, 0.6, &arena, &image, NULL), BK_OK);
    const bk_catheter catheter = {{60, 20, 60.5, 100}, 6, BK_NO};
    bk_scale_route r;
    assert_int_equal(bk_scale_by_catheter(&image, &catheter, bk_evidence_builtin(), &arena, &r, NULL), BK_OK);
    assert_near(r.mm_per_px, 2 / 8.4, 0.03 * 2 / 8.4);
}

static void test_path__follows_the_cheap_way_round(void **state)
{
    (void)state;
    bk_image cost;
    assert_int_equal(bk_image_new(40, 40, &arena, &cost, NULL), BK_OK);
    for (int i = 0; i < 1600; i++)
        cost.px[i] = 1;
    for (int r = 0; r < 35; r++)
        cost.px[r * 40 + 20] = INFINITY; /* a wall with a gap at the bottom */
    const bk_pt_px from = {5, 5}, to = {35, 5};
    bk_path path;
    assert_int_equal(bk_path_trace(&cost, &from, 1, to, &arena, &path, NULL), BK_OK);
    double lowest = 0;
    for (size_t i = 0; i < path.n; i++)
        lowest = fmax(lowest, path.points[i].y);
    assert_true(lowest >= 35);
    for (int r = 35; r < 40; r++)
        cost.px[r * 40 + 20] = INFINITY;
    assert_int_equal(bk_path_trace(&cost, &from, 1, to, &arena, &path, NULL), BK_E_NOTHING);
}

static void test_ridge__answers_at_the_lumen_s_own_scale(void **state)
{
    (void)state;
    /* chord profile of radius R: strongest contrast at sigma = 0.84 R (computed elsewhere, docs/methods/trace.md) */
    const double radius = 6, sigma[] = {1.5, 2.1, 3, 4.2, 5, 6, 8.5};
    bk_image image;
    bk_ridge ridge;
    assert_int_equal(bk_image_new(160, 160, &arena, &image, NULL), BK_OK);
    for (int r = 0; r < 160; r++)
        for (int c = 0; c < 160; c++) {
            const double x = c - 80;
            image.px[r * 160 + c] = (float)(-0.1 * 2 * sqrt(fmax(radius * radius - x * x, 0)));
        }
    assert_int_equal(bk_ridge_filter(&image, sigma, 7, &arena, &ridge, NULL), BK_OK);
    assert_near((double)bk_image_at(&ridge.sigma_px, 80, 80), 0.84 * radius, 0.1);
    assert_true(bk_image_at(&ridge.strength, 80, 80) > 4 * bk_image_at(&ridge.strength, 80, 95));
}

static void test_smooth__keeps_a_straight_line(void **state)
{
    (void)state;
    double v[50], w[50];
    for (int i = 0; i < 50; i++) {
        v[i] = 2 + 0.1 * i;
        w[i] = i > 20 && i < 30 ? 0 : 1;
    }
    bk_smooth s;
    assert_int_equal(bk_smooth_fit(v, w, 50, 0.5, 2, 0.5, &arena, &s, NULL), BK_OK);
    for (size_t i = 0; i < 50; i++)
        assert_near(bk_smooth_value(&s, i), v[i], 1e-6); /* a line bends nowhere, so the penalty costs it nothing */
    assert_true(bk_smooth_sd(&s, 25) > bk_smooth_sd(&s, 10));
}

static void test_cine__phase_counts_from_the_r_wave(void **state)
{
    (void)state;
    double t[40];
    for (int i = 0; i < 40; i++)
        t[i] = 40.0 * i;
    const int32_t r[] = {5, 25};
    assert_near(bk_cine_phase_pct(t, 40, r, 2, 5), 0, 0);
    assert_near(bk_cine_phase_pct(t, 40, r, 2, 20), 75, 1e-9);
    assert_true(isnan(bk_cine_phase_pct(t, 40, r, 2, 30)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_branch__finds_the_meeting_point_of_straight_limbs, start, stop),
        cmocka_unit_test_setup_teardown(test_branch__continues_bent_limbs, start, stop),
        cmocka_unit_test_setup_teardown(test_branch__is_not_moved_by_a_lesion_on_one_wall, start, stop),
        cmocka_unit_test_setup_teardown(test_core__of_a_straight_tube_is_its_width, start, stop),
        cmocka_unit_test_setup_teardown(test_medina__probabilities_are_those_of_normals, start, stop),
        cmocka_unit_test_setup_teardown(test_reference__ignores_a_lesion, start, stop),
        cmocka_unit_test_setup_teardown(test_reference__rests_on_a_limb_seen_dimly, start, stop),
        cmocka_unit_test_setup_teardown(test_reference__settles_on_rippled_limbs, start, stop),
        cmocka_unit_test_setup_teardown(test_reference__is_not_drawn_into_a_long_lesion, start, stop),
        cmocka_unit_test_setup_teardown(test_scale__by_isocentre_is_the_standards, start, stop),
        cmocka_unit_test_setup_teardown(test_scale__by_catheter_reads_a_drawn_shaft, start, stop),
        cmocka_unit_test_setup_teardown(test_scale__by_empty_catheter_reads_the_outer_wall, start, stop),
        cmocka_unit_test_setup_teardown(test_path__follows_the_cheap_way_round, start, stop),
        cmocka_unit_test_setup_teardown(test_ridge__answers_at_the_lumen_s_own_scale, start, stop),
        cmocka_unit_test_setup_teardown(test_smooth__keeps_a_straight_line, start, stop),
        cmocka_unit_test_setup_teardown(test_cine__phase_counts_from_the_r_wave, start, stop),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
