/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The lumen model against the closed-form chord of a straight round tube, and the fit on pictures made from
 * it. */
#include "support/arena.h"

#include <gsl/gsl_integration.h>
#include <string.h>

#include "base/random.h"
#include "core/image/lumen_internal.h"

#define PI 3.14159265358979323846

/* ---- the blurred profile ---- */

typedef struct tube {
    double x, radius, density, sigma;
} tube;

/* exp(-mu chord) left out of 1, times the Gaussian: Beer-Lambert on chord 2 sqrt(R^2 - u^2), u = R sin t. */
static double integrand(double t, void *context)
{
    const tube *p = context;
    const double z = (p->x - p->radius * sin(t)) / p->sigma, half = p->radius * cos(t);
    return exp(-0.5 * z * z) / (p->sigma * sqrt(2 * PI)) * -expm1(-2 * p->density * half) * half;
}

/* By adaptive quadrature (GSL's QAGP), to 1e-12. */
static double absorbed(tube p)
{
    enum { ROOM = 1000 };
    gsl_integration_workspace *const room = gsl_integration_workspace_alloc(ROOM);
    const double peak = fabs(p.x) < p.radius ? asin(p.x / p.radius) : 0;
    double ends[3] = {-PI / 2, peak, PI / 2}, value, error;
    gsl_function f = {integrand, &p};
    assert_int_equal(gsl_integration_qagp(&f, ends, 3, 1e-13, 1e-11, ROOM, room, &value, &error), 0);
    gsl_integration_workspace_free(room);
    return value;
}

/* R / sigma from a lumen far below the blur to 4.5 mm under a blur of 0.045 mm (SD); weak and strong
 * contrast. */
static void test_lumen_profile__is_the_blurred_chord(void **state)
{
    (void)state;
    const double *rule = bk_lumen_rule_new(&arena, NULL);
    for (double ratio = 0.1; ratio < 50; ratio *= 1.17)
        for (double depth = 0.05; depth < 3; depth *= 3)
            for (int k = 0; k <= 24; k++) {
                const tube p = {(ratio + 5) * k / 24.0, ratio, 0.5 * depth / ratio, 1};
                const double got = bk_lumen_profile_at(rule, p.x, 2 * ratio, p.density, 1).w;
                bk_assert_near(got, absorbed(p), 1e-7, ratio > 14 ? "a wide sharp lumen" : "the profile",
                               __FILE__, __LINE__);
            }
}

static void test_lumen_profile__scales_with_the_unit(void **state)
{
    (void)state;
    const double *rule = bk_lumen_rule_new(&arena, NULL);
    const bk_lumen_profile a = bk_lumen_profile_at(rule, 1.3, 4.2, 0.05, 0.9);
    const bk_lumen_profile b = bk_lumen_profile_at(rule, 2.6, 8.4, 0.025, 1.8);
    assert_near(a.w, b.w, 1e-12);
    assert_near(a.d, 2 * b.d, 1e-12);
    assert_near(a.x, 2 * b.x, 1e-12);
    assert_near(a.m, b.m, 1e-12);
}

/* Derivatives by Richardson's central differences of the quadrature above, not of the function itself. */
static double slope_at(tube p, int which)
{
    const double step = 2e-3;
    tube q = p;
    double *const parameter = which == 0 ? &q.x : which == 1 ? &q.radius : which == 2 ? &q.density : &q.sigma;
    const double at = *parameter, h = which == 2 ? step * at : step;
    double d[2];
    for (int k = 0; k < 2; k++) {
        *parameter = at + h / (1 + k);
        const double above = absorbed(q);
        *parameter = at - h / (1 + k);
        d[k] = (above - absorbed(q)) * (1 + k) / (2 * h);
    }
    return (4 * d[1] - d[0]) / 3;
}

static void test_lumen_profile__has_the_right_derivatives(void **state)
{
    (void)state;
    const double *rule = bk_lumen_rule_new(&arena, NULL);
    for (double ratio = 0.3; ratio < 13; ratio *= 1.8)
        for (int k = 0; k <= 10; k++) {
            const tube p = {(ratio + 3) * k / 10.0, ratio, 0.3 / ratio, 1};
            const bk_lumen_profile got = bk_lumen_profile_at(rule, p.x, 2 * ratio, p.density, 1);
            assert_near(got.x, slope_at(p, 0), 1e-6);
            assert_near(got.d, 0.5 * slope_at(p, 1), 1e-6);       /* by the diameter */
            assert_near(got.m, p.density * slope_at(p, 2), 1e-6); /* by the log of the density */
            assert_near(got.sigma, slope_at(p, 3), 1e-6);
        }
}

/* The table answers in floats, by Taylor series over at most half a node, density times blur within 3 % of its own,
   at any blur: errors far below the 1 % of noise that a pixel has. Eight places at once, none alike. */
static void test_lumen_table__agrees_with_the_profile(void **state)
{
    (void)state;
    const double *rule = bk_lumen_rule_new(&arena, NULL);
    const double sigma = 0.9, density = 0.021;
    bk_lumen_table table;
    bk_lumen_pool pool;
    assert_int_equal(bk_lumen_pool_init(&pool, rule, &arena, NULL), BK_OK);
    assert_int_equal(bk_lumen_table_init(&table, &pool, 22 / (0.7 * sigma), &arena, NULL), BK_OK);
    bk_lumen_table_aim(&table, log(density * sigma));
    double worst_w = 0, worst_d = 0, worst_x = 0, worst_m = 0, worst_s = 0;
    for (double first = 0.9; first < 18; first += 0.337)
        for (double start = -16; start < 14; start += 0.2718 * BK_V8)
            for (int k = -1; k <= 1; k++) {
                const double shift = 0.03 * k, blur = sigma * (1 - 0.3 * k);
                bk_v8 x, d;
                for (int lane = 0; lane < BK_V8; lane++) {
                    x[lane] = (float)(start + 0.2718 * lane);
                    d[lane] = (float)(first + 0.531 * lane);
                }
                bk_lumen_profile8 got;
                bk_lumen_lookup(&table, x, d, bk_v8_all((float)shift), (float)(1 / blur), &got);
                for (int lane = 0; lane < BK_V8; lane++) {
                    const bk_lumen_profile want = bk_lumen_profile_at(rule, (double)x[lane], (double)d[lane],
                                                                      density * exp(shift) * sigma / blur, blur);
                    worst_w = fmax(worst_w, fabs((double)got.w[lane] - want.w));
                    worst_x = fmax(worst_x, fabs((double)got.x[lane] - want.x));
                    worst_d = fmax(worst_d, fabs((double)got.d[lane] - want.d));
                    worst_m = fmax(worst_m, fabs((double)got.m[lane] - want.m));
                    worst_s = fmax(worst_s, fabs((double)got.blur[lane] - want.sigma * blur));
                }
            }
    assert_near(worst_w, 0, 1e-4);
    assert_near(worst_x, 0, 1e-3);
    assert_near(worst_d, 0, 1e-3);
    assert_near(worst_m, 0, 2e-3);
    assert_near(worst_s, 0, 5e-3);
}

/* ---- the fit, on straight tubes drawn by quadrature ---- */

enum { SIZE = 320, SAMPLES = 441, FINE = 40, PROFILE = 40 * FINE };
#define STEP_PX 0.5

/* A picture of three tubes, each alone: 1000 x (1 - blurred absorption), averaged over each pixel. */
typedef struct scene {
    double mm_per_px, sigma_px, density_per_px;
    double diameter_mm[BK_LUMEN_LIMBS];
    bk_pt_px from[BK_LUMEN_LIMBS];
    double way_rad;
    bk_image image;
    bk_pt_px *axis[BK_LUMEN_LIMBS];
    double *guess_px[BK_LUMEN_LIMBS];
    bk_lumen_start start[BK_LUMEN_LIMBS];
} scene;

/* Blurred absorption at multiples of 1/FINE px from the axis. */
static void profile_by_quadrature(const scene *s, size_t limb, double *out)
{
    const double radius = 0.5 * s->diameter_mm[limb] / s->mm_per_px;
    for (int k = 0; k < PROFILE; k++)
        out[k] = (double)k / FINE > radius + 8 * s->sigma_px
                     ? 0
                     : absorbed((tube){(double)k / FINE, radius, s->density_per_px, s->sigma_px});
}

static double between(const double *profile, double x)
{
    const double at = fabs(x) * FINE;
    const int k = (int)at;
    return k + 1 < PROFILE ? profile[k] + (at - k) * (profile[k + 1] - profile[k]) : 0;
}

static void draw(scene *s)
{
    double profile[PROFILE];
    s->image = (bk_image){BK_NEW(&arena, SIZE * SIZE, float, NULL), SIZE, SIZE};
    for (size_t i = 0; i < SIZE * SIZE; i++)
        s->image.px[i] = 1000;
    for (size_t limb = 0; limb < BK_LUMEN_LIMBS; limb++) {
        const double nx = sin(s->way_rad), ny = -cos(s->way_rad);
        profile_by_quadrature(s, limb, profile);
        for (int r = 0; r < SIZE; r++)
            for (int c = 0; c < SIZE; c++) {
                const double x = (c - s->from[limb].x) * nx + (r - s->from[limb].y) * ny;
                double sum = 0;
                for (int i = 0; i < 64 && fabs(x) < 39; i++)
                    sum += between(profile, x + (i / 8 - 3.5) / 8 * nx + (i % 8 - 3.5) / 8 * ny) / 64;
                s->image.px[r * SIZE + c] -= (float)(1000 * sum);
            }
    }
    bk_random random; /* rounding to 1 of 1000, as it were */
    bk_random_seed(&random, 5);
    for (size_t i = 0; i < SIZE * SIZE; i++)
        s->image.px[i] += (float)bk_random_between(&random, -0.5, 0.5);
}

/* Axes that wander 1 px about the truth and diameters 20 % wrong. */
static void begin(scene *s, size_t samples)
{
    for (size_t limb = 0; limb < BK_LUMEN_LIMBS; limb++) {
        s->axis[limb] = BK_NEW(&arena, samples, bk_pt_px, NULL);
        s->guess_px[limb] = BK_NEW(&arena, samples, double, NULL);
        for (size_t k = 0; k < samples; k++) {
            const double along = STEP_PX * (double)k, off = sin(along / 17 + (double)limb);
            s->axis[limb][k] = (bk_pt_px){s->from[limb].x + along * cos(s->way_rad) + off * sin(s->way_rad),
                                          s->from[limb].y + along * sin(s->way_rad) - off * cos(s->way_rad)};
            s->guess_px[limb][k] = (limb == 1 ? 0.8 : 1.2) * s->diameter_mm[limb] / s->mm_per_px;
        }
        s->start[limb] = (bk_lumen_start){s->axis[limb], s->guess_px[limb], samples, STEP_PX, 10};
    }
}

static scene scene_of(double mm_per_px, double sigma_px, double per_mm,
                      const double diameter_mm[BK_LUMEN_LIMBS])
{
    scene s = {
        .mm_per_px = mm_per_px, .sigma_px = sigma_px, .density_per_px = per_mm * mm_per_px, .way_rad = 0.37};
    for (size_t limb = 0; limb < BK_LUMEN_LIMBS; limb++) {
        s.diameter_mm[limb] = diameter_mm[limb];
        s.from[limb] = (bk_pt_px){62.3 - 28 * (double)limb, 30.6 + 90 * (double)limb};
    }
    draw(&s);
    begin(&s, SAMPLES);
    return s;
}

/* There is no scatter in these pictures and the fit is told so. */
static bk_status fit_of(const scene *s, bk_lumen_fit *fit, bk_err *err)
{
    const bk_lumen_options options = {
        .mm_per_px = s->mm_per_px, .scatter_sd = 1e-6, .psf_sigma_px = 1.2 * s->sigma_px};
    return bk_lumen_fit_limbs(&s->image, s->start, &options, &arena, fit, err);
}

static void test_lumen_fit__recovers_straight_tubes(void **state)
{
    (void)state;
    static const struct {
        double mm_per_px, sigma_px, per_mm, diameter_mm[BK_LUMEN_LIMBS];
    } rows[] = {
        {0.14, 0.85, 0.18, {0.5, 1.0, 2.0}},
        {0.14, 0.85, 0.18, {3.0, 4.0, 0.7}},
        {0.20, 0.60, 0.25, {1.5, 2.5, 3.5}},
        {0.10, 1.30, 0.12, {0.6, 1.2, 2.2}},
    };
    for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
        const bk_arena_mark mark = bk_arena_take_mark(&arena);
        const scene s = scene_of(rows[k].mm_per_px, rows[k].sigma_px, rows[k].per_mm, rows[k].diameter_mm);
        bk_lumen_fit fit;
        assert_int_equal(fit_of(&s, &fit, NULL), BK_OK);
        assert_near(fit.psf_sigma_px, s.sigma_px, 0.002);
        for (size_t limb = 0; limb < BK_LUMEN_LIMBS; limb++) {
            const bk_lumen_limb *got = &fit.limb[limb];
            assert_true(got->n > SAMPLES - 30);
            assert_near(got->density_per_px / s.density_per_px, 1, 0.005);
            for (size_t i = 0; i < got->n; i++) {
                const double nx = sin(s.way_rad), ny = -cos(s.way_rad);
                const double from_end_mm = STEP_PX * s.mm_per_px * (double)(i < got->n - 1 - i ? i : got->n - 1 - i);
                /* an end is seen from one side only: there the SD says how well */
                const double within = from_end_mm < 0.5 ? fmax(3 * got->sd_px[i] * s.mm_per_px, 0.005) : 0.005;
                assert_near(got->diameter_px[i] * s.mm_per_px, s.diameter_mm[limb], within);
                assert_near((got->axis[i].x - s.from[limb].x) * nx + (got->axis[i].y - s.from[limb].y) * ny,
                            0, from_end_mm < 0.5 ? 0.15 : 0.05);
                assert_true(got->sd_px[i] > 0 && got->sd_px[i] * s.mm_per_px < 0.01);
            }
        }
        bk_arena_rewind(&arena, mark);
    }
}

/* Two tubes 0.4 mm apart, edge to edge: the absorptions of lumens that do not touch add up, by Beer-Lambert, and the edges
   between them say nearly as much as those outside (without them the SD is four to six times that of the tubes apart). */
static void test_lumen_fit__uses_the_edges_between_limbs(void **state)
{
    (void)state;
    const bk_arena_mark mark = bk_arena_take_mark(&arena);
    scene s = scene_of(0.14, 0.85, 0.18, (const double[]){2.5, 1.5, 2.0});
    bk_lumen_fit apart, beside;
    assert_int_equal(fit_of(&s, &apart, NULL), BK_OK);
    const double away_px = (0.5 * (2.5 + 1.5) + 0.4) / s.mm_per_px;
    s.from[1] = (bk_pt_px){s.from[0].x - away_px * sin(s.way_rad), s.from[0].y + away_px * cos(s.way_rad)};
    draw(&s);
    begin(&s, SAMPLES);
    assert_int_equal(fit_of(&s, &beside, NULL), BK_OK);
    for (size_t limb = 0; limb < 2; limb++) {
        double sd_beside = 0, sd_apart = 0;
        for (size_t i = 10; i + 10 < beside.limb[limb].n; i++) {
            assert_near(beside.limb[limb].diameter_px[i] * s.mm_per_px, s.diameter_mm[limb], 0.005);
            sd_beside += beside.limb[limb].sd_px[i];
            sd_apart += apart.limb[limb].sd_px[i];
        }
        assert_true(sd_beside < 1.6 * sd_apart);
    }
    bk_arena_rewind(&arena, mark);
}

static void test_lumen_fit__same_input_same_bits(void **state)
{
    (void)state;
    const bk_arena_mark mark = bk_arena_take_mark(&arena);
    const scene s = scene_of(0.14, 0.85, 0.18, (const double[]){0.8, 1.6, 2.4});
    bk_lumen_fit a, b;
    assert_int_equal(fit_of(&s, &a, NULL), BK_OK);
    assert_int_equal(fit_of(&s, &b, NULL), BK_OK);
    for (size_t limb = 0; limb < BK_LUMEN_LIMBS; limb++)
        assert_memory_equal(a.limb[limb].diameter_px, b.limb[limb].diameter_px,
                            a.limb[limb].n * sizeof(double));
    bk_arena_rewind(&arena, mark);
}

/* The unit of intensity does not matter beyond where the rounds stop (0.002 mm). */
static void test_lumen_fit__takes_any_unit_of_intensity(void **state)
{
    (void)state;
    const bk_arena_mark mark = bk_arena_take_mark(&arena);
    const scene s = scene_of(0.14, 0.85, 0.18, (const double[]){0.8, 1.6, 2.4});
    bk_lumen_fit a, b;
    assert_int_equal(fit_of(&s, &a, NULL), BK_OK);
    for (size_t i = 0; i < SIZE * SIZE; i++)
        s.image.px[i] *= 1.0F / 64;
    assert_int_equal(fit_of(&s, &b, NULL), BK_OK);
    for (size_t limb = 0; limb < BK_LUMEN_LIMBS; limb++)
        for (size_t i = 0; i < a.limb[limb].n; i++)
            assert_near(a.limb[limb].diameter_px[i], b.limb[limb].diameter_px[i], 0.02);
    bk_arena_rewind(&arena, mark);
}

/* ---- what cannot be fitted is refused, and nothing is read outside the image ---- */

static bk_status fit_quietly(const scene *s, const unsigned char *mask, bk_err *err)
{
    bk_lumen_fit fit;
    const bk_lumen_options options = {
        .mm_per_px = s->mm_per_px, .scatter_sd = 1e-6, .psf_sigma_px = s->sigma_px, .mask = mask};
    const bk_status status = bk_lumen_fit_limbs(&s->image, s->start, &options, &arena, &fit, err);
    for (size_t limb = 0; status == BK_OK && limb < BK_LUMEN_LIMBS; limb++)
        for (size_t i = 0; i < fit.limb[limb].n; i++)
            assert_true(isfinite(fit.limb[limb].diameter_px[i]) && isfinite(fit.limb[limb].axis[i].x));
    return status;
}

static scene usual(void)
{
    return scene_of(0.14, 0.85, 0.18, (const double[]){0.8, 1.6, 2.4});
}

static void test_lumen_fit__refuses_a_flat_picture(void **state)
{
    (void)state;
    const bk_arena_mark mark = bk_arena_take_mark(&arena);
    scene s = usual();
    bk_err err = {0};
    bk_random random;
    bk_random_seed(&random, 3);
    for (size_t i = 0; i < SIZE * SIZE; i++)
        s.image.px[i] = (float)bk_random_poisson(&random, 1500);
    assert_int_equal(fit_quietly(&s, NULL, &err), BK_E_NOTHING);
    assert_true(err.message[0]);
    bk_arena_rewind(&arena, mark);
}

static void test_lumen_fit__survives_pixels_that_are_no_numbers(void **state)
{
    (void)state;
    const bk_arena_mark mark = bk_arena_take_mark(&arena);
    scene s = usual();
    for (size_t i = 0; i < SIZE * SIZE; i += 37)
        s.image.px[i] = i % 2 ? NAN : -5;
    const bk_status some = fit_quietly(&s, NULL, NULL);
    assert_true(some == BK_OK || some == BK_E_NOTHING);
    s.image.px[17 * SIZE + 250] = INFINITY;
    s.image.px[160 * SIZE + 160] = INFINITY;
    const bk_status infinite = fit_quietly(&s, NULL, NULL);
    assert_true(infinite == BK_OK || infinite == BK_E_NOTHING);
    for (size_t i = 0; i < SIZE * SIZE; i++)
        s.image.px[i] = NAN;
    assert_int_equal(fit_quietly(&s, NULL, NULL), BK_E_NOTHING);
    for (size_t i = 0; i < SIZE * SIZE; i++)
        s.image.px[i] = 0;
    assert_int_equal(fit_quietly(&s, NULL, NULL), BK_E_NOTHING);
    bk_arena_rewind(&arena, mark);
}

static void test_lumen_fit__refuses_when_everything_is_masked(void **state)
{
    (void)state;
    const bk_arena_mark mark = bk_arena_take_mark(&arena);
    scene s = usual();
    unsigned char *mask = BK_NEW(&arena, SIZE * SIZE, unsigned char, NULL);
    memset(mask, 1, SIZE * SIZE);
    assert_int_equal(fit_quietly(&s, mask, NULL), BK_E_NOTHING);
    memset(mask, 0, SIZE * SIZE); /* half of it */
    memset(mask, 1, SIZE * SIZE / 2);
    const bk_status half = fit_quietly(&s, mask, NULL);
    assert_true(half == BK_OK || half == BK_E_NOTHING);
    bk_arena_rewind(&arena, mark);
}

static void test_lumen_fit__survives_axes_outside_the_picture(void **state)
{
    (void)state;
    static const bk_pt_px away[] = {
        {-100, -50}, {4000, 3000}, {-150, 10}, {SIZE - 20, SIZE - 20}, {1e6, -1e6}};
    for (size_t k = 0; k < sizeof away / sizeof away[0]; k++)
        for (size_t only = 0; only <= BK_LUMEN_LIMBS; only++) { /* all of them, or one */
            const bk_arena_mark mark = bk_arena_take_mark(&arena);
            scene s = usual();
            for (size_t limb = 0; limb < BK_LUMEN_LIMBS; limb++)
                for (size_t i = 0; i < SAMPLES && (only == limb || only == BK_LUMEN_LIMBS); i++) {
                    s.axis[limb][i].x += away[k].x;
                    s.axis[limb][i].y += away[k].y;
                }
            const bk_status status = fit_quietly(&s, NULL, NULL);
            assert_true(status == BK_OK || status == BK_E_NOTHING);
            if (k == 1 || k == 4)
                assert_int_equal(status, BK_E_NOTHING);
            bk_arena_rewind(&arena, mark);
        }
}

static void test_lumen_fit__refuses_short_and_odd_axes(void **state)
{
    (void)state;
    const bk_arena_mark mark = bk_arena_take_mark(&arena);
    scene s = usual();
    for (size_t n = 0; n < 20; n++) {
        s.start[1].n = n;
        assert_int_equal(fit_quietly(&s, NULL, NULL), BK_E_NOTHING);
    }
    s.start[1].n = SAMPLES;
    s.start[1].first_px = 1e4;
    assert_int_equal(fit_quietly(&s, NULL, NULL), BK_E_NOTHING);
    s.start[1].first_px = 10;
    for (size_t i = 0; i < SAMPLES; i++) /* all samples in one place */
        s.axis[2][i] = s.axis[2][0];
    const bk_status one_place = fit_quietly(&s, NULL, NULL);
    assert_true(one_place != BK_OK);
    bk_arena_rewind(&arena, mark);
}

static void test_lumen_fit__gives_back_a_full_arena_as_a_limit(void **state)
{
    (void)state;
    const bk_arena_mark mark = bk_arena_take_mark(&arena);
    const scene s = usual();
    for (long k = 1; k < 60; k += 3) {
        bk_arena small;
        bk_lumen_fit fit;
        bk_err err = {0};
        const bk_lumen_options options = {.mm_per_px = s.mm_per_px, .scatter_sd = 1e-6};
        bk_arena_init(&small, (size_t)256 << 20);
        small.fail_at = k;
        const bk_status status = bk_lumen_fit_limbs(&s.image, s.start, &options, &small, &fit, &err);
        assert_true(status == BK_OK || status == BK_E_LIMIT);
        bk_arena_clear(&small);
    }
    bk_arena_rewind(&arena, mark);
}

/* ---- what the model misses ---- */

enum { MISFIT_CELLS = 20, MISFIT_EACH = 48, MISFIT_KNOTS = MISFIT_CELLS + 5 };

/* Rests of one noise everywhere, of twice that in four cells, of so little more in the first ones as chance makes: squares of
   192 normal values have a mean with an SD of sqrt(2 / 192) = 0.10. */
static void test_lumen_noise__widens_where_the_model_misses(void **state)
{
    (void)state;
    const bk_arena_mark mark = bk_arena_take_mark(&arena);
    enum { N = MISFIT_CELLS * MISFIT_EACH, FROM = 8, TO = 12 };
    float *const list = BK_NEW(&arena, 3 * N, float, NULL);
    bk_lumen_pixels px = {.n = N, .cells = MISFIT_CELLS, .robust = list, .rest = list + N, .pull = list + 2 * N};
    px.at = BK_NEW(&arena, N, int32_t, NULL);
    px.cell_start = BK_NEW(&arena, MISFIT_CELLS + 1, size_t, NULL);
    for (size_t cell = 0; cell <= MISFIT_CELLS; cell++)
        px.cell_start[cell] = cell * MISFIT_EACH;
    for (size_t k = 0; k < N; k++) {
        const size_t cell = k / MISFIT_EACH;
        px.robust[k] = px.pull[k] = 1.0F;
        px.rest[k] = (k % 2 ? 3.0F : -3.0F) * (cell >= FROM && cell < TO ? 2.0F : cell < 4 ? 1.03F : 1.0F);
    }
    const double sigma = 0.9, gain = 9.0;
    /* A sum over noise shared by a Gaussian blur varies by the sum of its autocorrelation, counted out here. */
    double shared = 0.0;
    for (int dy = -12; dy <= 12; dy++)
        for (int dx = -12; dx <= 12; dx++)
            shared += exp(-(double)(dx * dx + dy * dy) / (4.0 * sigma * sigma));
    const double squares = 4.0;
    double factor[MISFIT_KNOTS];
    bk_lumen_noise_misfit(&px, gain, sigma, 1.0, MISFIT_KNOTS, factor);
    for (size_t k = 0; k < MISFIT_KNOTS; k++) {
        assert_true(factor[k] >= 1.0);
        if (k <= FROM || k >= TO + 4)
            assert_float_equal(factor[k], 1.0, 1e-12);
    }
    assert_float_equal(factor[TO], sqrt(1.0 + shared * (squares - 1.0)), 1e-3);
    memset(px.pull, 0, N * sizeof *px.pull); /* pixels that no diameter moves say nothing about it */
    bk_lumen_noise_misfit(&px, gain, sigma, 1.0, MISFIT_KNOTS, factor);
    for (size_t k = 0; k < MISFIT_KNOTS; k++)
        assert_float_equal(factor[k], 1.0, 1e-12);
    bk_arena_rewind(&arena, mark);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_lumen_profile__is_the_blurred_chord),
        cmocka_unit_test(test_lumen_profile__scales_with_the_unit),
        cmocka_unit_test(test_lumen_profile__has_the_right_derivatives),
        cmocka_unit_test(test_lumen_table__agrees_with_the_profile),
        cmocka_unit_test(test_lumen_fit__recovers_straight_tubes),
        cmocka_unit_test(test_lumen_fit__uses_the_edges_between_limbs),
        cmocka_unit_test(test_lumen_fit__same_input_same_bits),
        cmocka_unit_test(test_lumen_fit__takes_any_unit_of_intensity),
        cmocka_unit_test(test_lumen_fit__refuses_a_flat_picture),
        cmocka_unit_test(test_lumen_fit__survives_pixels_that_are_no_numbers),
        cmocka_unit_test(test_lumen_fit__refuses_when_everything_is_masked),
        cmocka_unit_test(test_lumen_fit__survives_axes_outside_the_picture),
        cmocka_unit_test(test_lumen_fit__refuses_short_and_odd_axes),
        cmocka_unit_test(test_lumen_fit__gives_back_a_full_arena_as_a_limit),
        cmocka_unit_test(test_lumen_noise__widens_where_the_model_misses),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, start, stop);
}
