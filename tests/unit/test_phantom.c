/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The physics of the generator against closed forms: the chord of a straight cylinder, similar triangles,
   conservation of mass under a blur, moments of the Poisson distribution. */
#include "support/arena.h"

#include <stdlib.h>
#include <string.h>

#include "phantom/detector.h"
#include "phantom/phantom.h"
#include "phantom/shadow.h"

#define PI 3.14159265358979323846

static void no_bend(const void *context, double s_mm, double k[2])
{
    (void)context;
    (void)s_mm;
    k[0] = k[1] = 0;
}

static ph_tube straight_tube(ph_vec centre, ph_vec way, double half_mm, double radius_mm)
{
    ph_tube tube;
    const ph_tube_start begin = {centre, ph_vec_unit(way), {0.31, -0.7, 0.2}, -half_mm, half_mm, no_bend,
                                 NULL};
    assert_int_equal(ph_tube_lay(&begin, &arena, &tube, NULL), BK_OK);
    for (size_t i = 0; i < tube.n; i++)
        tube.node[i].radius_mm = tube.node[i].healthy_mm = radius_mm;
    return tube;
}

/* Length of a line inside an endless cylinder: 2 sqrt(R^2 - d^2) / sin, d the distance of the two lines. */
static double chord_mm(ph_ray ray, ph_vec centre, ph_vec way, double radius_mm)
{
    const ph_vec normal = ph_vec_cross(ray.way, ph_vec_unit(way));
    const double sine = ph_vec_length(normal), d = ph_vec_dot(ph_vec_sub(centre, ray.from), normal) / sine;
    return fabs(d) < radius_mm ? 2 * sqrt(radius_mm * radius_mm - d * d) / sine : 0;
}

static ph_carm carm_of(double primary_deg, double secondary_deg)
{
    ph_carm carm = {.primary_deg = primary_deg,
                    .secondary_deg = secondary_deg,
                    .sid_mm = 1100,
                    .sod_mm = 760,
                    .spacing_mm = 0.2,
                    .rows = 512,
                    .cols = 512};
    ph_carm_set(&carm);
    return carm;
}

/* ---- projection ---- */

static void test_carm__magnifies_by_similar_triangles(void **state)
{
    (void)state;
    const ph_carm carm = carm_of(-27, 31);
    for (double depth = -40; depth <= 40; depth += 20) { /* towards the detector */
        const ph_vec a = ph_vec_times(depth, carm.to_detector);
        const ph_vec b = ph_vec_along(ph_vec_along(a, 6, carm.right), 8, carm.up);
        const ph_px p = ph_carm_project(&carm, a), q = ph_carm_project(&carm, b);
        const double per_mm = 1100 / (760 + depth) / 0.2;
        assert_near(hypot(q.x - p.x, q.y - p.y), 10 * per_mm, 1e-9);
        assert_near(p.x, 255.5, 1e-9);
        assert_near(p.y, 255.5, 1e-9);
        assert_true(q.x > p.x && q.y < p.y); /* right is right, up is up */
        assert_near(ph_carm_mm_per_px(&carm, b), 1 / per_mm, 1e-12);
        const ph_vec ray = ph_carm_ray(&carm, q.x, q.y), to = ph_vec_sub(b, carm.source);
        assert_near(ph_vec_length(ph_vec_cross(ray, to)), 0,
                    1e-9); /* the ray through its image meets the point */
    }
}

/* DICOM PS3.3 C.8.7.5.1.2: primary +90 looks from the patient's left, secondary +90 from the head; x grows to
   the patient's left, y to the back, z to the head. */
static void test_carm__angles_point_as_the_standard_says(void **state)
{
    (void)state;
    const ph_carm front = carm_of(0, 0), left = carm_of(90, 0), head = carm_of(0, 90);
    assert_near(front.to_detector.y, -1, 1e-12);
    assert_near(left.to_detector.x, 1, 1e-12);
    assert_near(head.to_detector.z, 1, 1e-12);
}

/* ---- path length ---- */

/* How far the wall would have to be moved [mm] to turn one chord into the other: L^2 = 4 (R^2 - d^2) for a
   tube seen from the side. A ray that just grazes the wall is as sensitive as it gets; this measure is not.
 */
static double wall_error_mm(double got_mm, double want_mm, double radius_mm)
{
    return fabs(got_mm * got_mm - want_mm * want_mm) / (8 * radius_mm);
}

/* Grazing rays are asked at all distances from the wall, down to 1e-8 R. The root finder stops within 1e-5 mm
   of the wall and may miss a stretch of under 0.02 mm (one step): in chord that is up to 0.013 mm for a ray
   that touches the wall of a 4 mm lumen, in the place of the wall less than 0.0002 mm. */
static void test_path__through_a_straight_tube_is_the_chord(void **state)
{
    (void)state;
    static const double radii[] = {0.18, 0.25, 1.0, 2.0};
    const ph_carm carm = carm_of(15, -20);
    const ph_vec centre = {2, -3, 4};
    const ph_vec way = ph_vec_along(ph_vec_along(carm.up, 0.4, carm.right), 0.5, carm.to_detector);
    for (size_t which = 0; which < 4; which++) {
        const double radius = radii[which];
        const ph_tube tube = straight_tube(centre, way, 20, radius);
        const ph_bundle bundle = {{&tube, NULL}, 1, 0};
        const ph_reach reach = ph_reach_all(&bundle);
        const ph_vec to = ph_vec_unit(ph_vec_sub(centre, carm.source));
        const ph_vec across = ph_vec_unit(ph_vec_cross(to, ph_vec_unit(way)));
        for (int k = -400; k <= 400; k++) {
            /* every 0.01 R, and closer and closer to the wall on either side of it */
            const double near = pow(10, -7.0 * abs(k % 100) / 100.0) * 0.1;
            const double off = k < 200 && k > -200 ? 0.01 * k
                               : k > 0             ? 1 + (k > 300 ? near : -near)
                                                   : -1 + (k < -300 ? -near : near);
            const ph_ray ray = {carm.source, ph_vec_unit(ph_vec_sub(
                                                 ph_vec_along(centre, off * radius, across), carm.source))};
            const double want = chord_mm(ray, centre, way, radius),
                         got = ph_path_length_mm(&bundle, &reach, ray);
            assert_near(wall_error_mm(got, want, radius), 0, 2e-4);
            if (want > radius)
                assert_near(got, want, 1e-4);
        }
    }
}

/* A cone is the steepest shoulder of a lesion: the quadratic of the ray in it. */
static double cone_length_mm(ph_ray ray, ph_vec apex_side, ph_vec way, double radius_mm, double slope)
{
    const ph_vec d = ph_vec_sub(ray.from, apex_side);
    const double s0 = ph_vec_dot(d, way), s1 = ph_vec_dot(ray.way, way), r0 = radius_mm + slope * s0,
                 r1 = slope * s1;
    const double a = 1 - s1 * s1 - r1 * r1, b = ph_vec_dot(d, ray.way) - s0 * s1 - r0 * r1;
    const double c = ph_vec_dot(d, d) - s0 * s0 - r0 * r0, root = b * b - a * c;
    return root > 0 ? 2 * sqrt(root) / a : 0;
}

static void test_path__through_a_cone_is_the_quadratic(void **state)
{
    (void)state;
    const ph_carm carm = carm_of(-40, 10);
    const ph_vec centre = {1, 2, -3}, way = ph_vec_unit(ph_vec_along(ph_vec_along(carm.up, -0.7, carm.right),
                                                                     0.3, carm.to_detector));
    ph_tube tube = straight_tube(centre, way, 8, 1);
    const double slope = 0.35, radius = 1.1;
    for (size_t i = 0; i < tube.n; i++)
        tube.node[i].radius_mm = tube.node[i].healthy_mm =
            fmax(radius + slope * (tube.first_mm + (double)i * PH_TUBE_STEP_MM), 0.1);
    const ph_bundle bundle = {{&tube, NULL}, 1, 0};
    const ph_reach reach = ph_reach_all(&bundle);
    const ph_vec across = ph_vec_unit(ph_vec_cross(ph_vec_unit(ph_vec_sub(centre, carm.source)), way));
    for (double s = -1.5; s < 1.5; s += 0.21)
        for (double off = -1.2; off <= 1.2; off += 0.043) {
            const ph_vec aim = ph_vec_along(ph_vec_along(centre, s, way), off, across);
            const ph_ray ray = {carm.source, ph_vec_unit(ph_vec_sub(aim, carm.source))};
            const double want = cone_length_mm(ray, centre, way, radius, slope);
            if (want < 0.3)
                continue; /* near the wall the tube's round end is not far */
            assert_near(ph_path_length_mm(&bundle, &reach, ray), want, 4e-4);
        }
}

/* Two tubes that cross at a right angle: a ray along the third axis through both counts their overlap once.
 */
static void test_path__counts_an_overlap_once(void **state)
{
    (void)state;
    const ph_carm carm = carm_of(0, 0);
    const ph_tube a = straight_tube((ph_vec){0, 0, 0}, (ph_vec){1, 0, 0}, 10, 1.0);
    const ph_tube b = straight_tube((ph_vec){0, 0.5, 0}, (ph_vec){0, 0, 1}, 10, 1.0);
    const ph_bundle both = {{&a, &b}, 2, 0};
    const ph_reach reach = ph_reach_all(&both);
    const ph_ray ray = {carm.source, ph_vec_unit(ph_vec_sub((ph_vec){0, 0, 0}, carm.source))};
    assert_near(ph_path_length_mm(&both, &reach, ray), 2.5, 1e-4); /* -1 .. 1 and -0.5 .. 1.5 */
}

/* ---- the shadow ---- */

/* A scene of one lumen tube; everything else is off the picture. */
static ph_scene *lone_tube(const ph_tube *tube, const ph_carm *carm, double per_mm, double psf_sigma_mm)
{
    ph_scene *scene = BK_NEW(&arena, 1, ph_scene, NULL);
    scene->main = *tube;
    scene->side = straight_tube((ph_vec){500, 0, 500}, (ph_vec){0, 0, 1}, 3, 0.5);
    for (int i = 0; i < BK_PHANTOM_LIMBS; i++) {
        scene->density[i].per_mm = per_mm;
        scene->density[i].wave_mm[0] = scene->density[i].wave_mm[1] = 50;
    }
    scene->optics.psf_sigma_mm = psf_sigma_mm;
    scene->views = 1;
    scene->view[0].carm = *carm;
    scene->moment[0] = (ph_moment){.front_mm = 1e4, .front_width_mm = 1, .strength = 1};
    scene->best_frame = 1;
    return scene;
}

static float *shadow_of(const ph_tube *tube, const ph_carm *carm, double per_mm, double psf_sigma_mm)
{
    const size_t n = (size_t)carm->rows * (size_t)carm->cols;
    float *body = BK_NEW(&arena, n, float, NULL), *out = BK_NEW(&arena, n, float, NULL);
    const ph_scene *scene = lone_tube(tube, carm, per_mm, psf_sigma_mm);
    assert_int_equal(ph_shadow(scene, 0, &scene->moment[0], body, &arena, out, NULL), BK_OK);
    return out;
}

/* Mean absorption of one pixel by brute force: 64 x 64 rays, exact chords. */
static double pixel_by_chords(const ph_carm *carm, int32_t r, int32_t c, ph_vec centre, ph_vec way,
                              double radius_mm, double per_mm)
{
    double sum = 0;
    for (int i = 0; i < 64; i++)
        for (int j = 0; j < 64; j++) {
            const ph_ray ray = {carm->source,
                                ph_carm_ray(carm, c + (j + 0.5) / 64 - 0.5, r + (i + 0.5) / 64 - 0.5)};
            sum += exp(-per_mm * chord_mm(ray, centre, way, radius_mm)) / 4096;
        }
    return sum;
}

static void test_shadow__follows_beer_and_lambert_pixel_by_pixel(void **state)
{
    (void)state;
    const bk_arena_mark mark = bk_arena_take_mark(&arena);
    const ph_carm carm = carm_of(10, 20);
    const ph_vec centre = {0.3, -0.2, 0.1};
    const ph_vec way =
        ph_vec_unit(ph_vec_along(ph_vec_along(carm.up, 0.31, carm.right), 0.2, carm.to_detector));
    const ph_tube tube = straight_tube(centre, way, 60, 1.3);
    const float *field = shadow_of(&tube, &carm, 0.2, 1e-4);
    double worst = 0;
    for (int32_t c = 236; c < 276; c++) {
        const double want = pixel_by_chords(&carm, 250, c, centre, way, 1.3, 0.2);
        worst = fmax(worst, fabs((double)field[250 * 512 + c] - want));
    }
    assert_near(worst, 0, 1.5e-3); /* 4 x 4 rays in a pixel on the very edge */
    bk_arena_rewind(&arena, mark);
}

/* Absorption summed over one row of pixels [px], and the same from exact chords. */
static double row_sum(const float *field, int32_t row)
{
    double sum = 0;
    for (int32_t c = 0; c < 512; c++)
        sum += 1 - (double)field[row * 512 + c];
    return sum;
}
static double row_by_chords(const ph_carm *carm, int32_t row, ph_vec centre, ph_vec way, double radius_mm,
                            double per_mm)
{
    double sum = 0;
    for (int i = 0; i < 2; i++)
        for (int j = 0; j < 512 * 64; j++) {
            const ph_ray ray = {carm->source, ph_carm_ray(carm, (j + 0.5) / 64 - 0.5, row + 0.25 - 0.5 * i)};
            sum -= expm1(-per_mm * chord_mm(ray, centre, way, radius_mm)) / 128;
        }
    return sum;
}

/* The lumen of a tight lesion. Where it runs along the rows or columns of the pixels, the 4 x 4 rays a pixel
   meet its round profile at the same few places in every row, and the area reads up to 0.6 % wrong, 0.3 % in
   diameter; in any other direction that averages out. */
static void test_shadow__of_a_thin_tube_has_the_right_area(void **state)
{
    (void)state;
    static const struct {
        double lean, within;
    } rows[] = {{0, 0.007}, {0.12, 0.0005}, {0.6, 0.0005}};
    const ph_carm carm = carm_of(0, 0);
    const ph_vec centre = {0.11, 0.4, 0.07};
    for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
        const bk_arena_mark mark = bk_arena_take_mark(&arena);
        const ph_vec way = ph_vec_unit((ph_vec){rows[k].lean, 0, 1});
        const ph_tube tube = straight_tube(centre, way, 70, 0.25);
        const float *field = shadow_of(&tube, &carm, 0.02, 0.1);
        double got = 0, want = 0;
        for (int32_t r = 182; r < 330; r += 3) {
            got += row_sum(field, r);
            want += row_by_chords(&carm, r, centre, way, 0.25, 0.02);
        }
        assert_near(got / want, 1, rows[k].within);
        /* seen across at the isocentre's depth: pi R^2 x density x magnification, less half a square */
        const double slant = 1 / sqrt(1 + rows[k].lean * rows[k].lean),
                     per_px = 1100 / (760 - 0.4) / 0.2 / slant;
        const double closed = (PI * 0.0625 * 0.02 - 0.5 * 0.02 * 0.02 * 16 * 0.015625 / 3) * per_px;
        assert_near(row_by_chords(&carm, 256, centre, way, 0.25, 0.02) / closed, 1, 5e-4);
        bk_arena_rewind(&arena, mark);
    }
}

static void test_shadow__blur_keeps_what_is_absorbed(void **state)
{
    (void)state;
    const bk_arena_mark mark = bk_arena_take_mark(&arena);
    const ph_carm carm = carm_of(20, -10);
    const ph_tube tube = straight_tube((ph_vec){0, 0, 0}, ph_vec_along(carm.up, 0.5, carm.right), 20, 0.8);
    const float *sharp = shadow_of(&tube, &carm, 0.25, 1e-4), *soft = shadow_of(&tube, &carm, 0.25, 0.19);
    double all[2] = {0, 0}, deepest[2] = {0, 0};
    for (int32_t r = 0; r < 512; r++) {
        all[0] += row_sum(sharp, r);
        all[1] += row_sum(soft, r);
        for (int32_t c = 0; c < 512; c++) {
            deepest[0] = fmax(deepest[0], 1 - (double)sharp[r * 512 + c]);
            deepest[1] = fmax(deepest[1], 1 - (double)soft[r * 512 + c]);
        }
    }
    assert_near(all[1] / all[0], 1, 1e-5);
    assert_true(deepest[1] < 0.99 * deepest[0]);
    bk_arena_rewind(&arena, mark);
}

/* ---- the detector ---- */

static void test_scatter__adds_its_share_and_spreads_as_asked(void **state)
{
    (void)state;
    const bk_arena_mark mark = bk_arena_take_mark(&arena);
    const size_t n = 512 * 512;
    float *field = BK_NEW(&arena, n, float, NULL);
    for (size_t i = 0; i < n; i++)
        field[i] = 1;
    assert_int_equal(ph_detector_scatter(field, 512, 512, 0.3, 60, &arena, NULL), BK_OK);
    for (size_t i = 0; i < n; i += 97)
        assert_near((double)field[i], 1.3, 1e-6);
    /* one bright pixel: mass 0.3, second moment of the spread sigma^2 (+ that of the blocks it is worked on)
     */
    memset(field, 0, n * sizeof *field);
    field[256 * 512 + 256] = 1000;
    assert_int_equal(ph_detector_scatter(field, 512, 512, 0.3, 40, &arena, NULL), BK_OK);
    double mass = 0, moment = 0;
    for (int32_t r = 0; r < 512; r++)
        for (int32_t c = 0; c < 512; c++) {
            const double v = (double)field[r * 512 + c] - (r == 256 && c == 256 ? 1000.0 : 0.0);
            mass += v;
            moment += v * (c - 256) * (c - 256);
        }
    assert_near(mass / 1000, 0.3, 3e-4);
    assert_near(sqrt(moment / mass), 40, 1);
    bk_arena_rewind(&arena, mark);
}

/* Poisson: mean and variance are the number of quanta; electronic noise adds its variance, rounding 1/12. */
static void test_detector__noise_has_the_moments_of_poisson(void **state)
{
    (void)state;
    static const double quanta[] = {12, 150, 1500};
    const size_t n = 512 * 512;
    for (size_t k = 0; k < 3; k++)
        for (int electronic = 0; electronic <= 5; electronic += 5) {
            const bk_arena_mark mark = bk_arena_take_mark(&arena);
            float *field = BK_NEW(&arena, n, float, NULL);
            uint16_t *px = BK_NEW(&arena, n, uint16_t, NULL);
            bk_random random;
            bk_random_seed(&random, 7 + k);
            for (size_t i = 0; i < n; i++)
                field[i] = 1;
            /* 0.8 x 4095 quanta at 80 % of the scale: one grey value a quantum */
            const ph_exposure exposure = {quanta[k], 0.8 * 4095, electronic,
                                          true,      12,         BK_PHANTOM_CURVE_LINEAR};
            assert_int_equal(ph_detector_store(field, 512, 512, &exposure, &random, &arena, px, NULL), BK_OK);
            double sum = 0, squares = 0, lag = 0;
            for (size_t i = 0; i < n; i++)
                sum += px[i] / (double)n;
            for (size_t i = 0; i < n; i++)
                squares += (px[i] - sum) * (px[i] - sum) / (double)n;
            for (size_t i = 1; i < n; i++)
                lag += (px[i] - sum) * (px[i - 1] - sum) / (double)n;
            const double wanted = quanta[k] + electronic * electronic + (electronic ? 1 / 12.0 : 0);
            if (electronic == 0 || quanta[k] > 100) { /* below, what would be negative is cut off at 0 */
                assert_near(sum, quanta[k], 5 * sqrt(wanted / (double)n) + 1e-3);
                assert_near(squares / wanted, 1,
                            5 * sqrt(2.0 / (double)n) + (quanta[k] > 30 ? 1.0 / 12 / quanta[k] : 0));
            }
            assert_near(lag / squares, 0, 5 / sqrt((double)n));
            bk_arena_rewind(&arena, mark);
        }
}

/* ---- the whole ---- */

static uint64_t picture_sum(const bk_phantom_options *options)
{
    bk_phantom *phantom;
    const size_t n = 512 * 512;
    const bk_arena_mark mark = bk_arena_take_mark(&arena);
    uint16_t *px = BK_NEW(&arena, n, uint16_t, NULL);
    assert_int_equal(bk_phantom_new(options, &phantom, NULL), BK_OK);
    assert_int_equal(bk_phantom_frame(phantom, 0, options->frames, px, n, NULL), BK_OK);
    uint64_t sum = UINT64_C(14695981039346656037); /* FNV-1a */
    for (size_t i = 0; i < n; i++)
        sum = (sum ^ px[i]) * UINT64_C(1099511628211);
    bk_phantom_free(phantom);
    bk_arena_rewind(&arena, mark);
    return sum;
}

static void test_phantom__same_seed_same_picture(void **state)
{
    (void)state;
    bk_phantom_options options = bk_phantom_defaults(11);
    const uint64_t first = picture_sum(&options);
    assert_true(picture_sum(&options) == first);
    options.seed = 12;
    assert_true(picture_sum(&options) != first);
}

/* A frame of a cine does not depend on which frames were asked for before. */
static void test_phantom__a_frame_is_the_same_in_any_order(void **state)
{
    (void)state;
    const size_t n = 512 * 512;
    bk_phantom_options options = bk_phantom_defaults(5);
    options.frames = 4;
    uint16_t *alone = BK_NEW(&arena, n, uint16_t, NULL), *after = BK_NEW(&arena, n, uint16_t, NULL);
    bk_phantom *a, *b;
    assert_int_equal(bk_phantom_new(&options, &a, NULL), BK_OK);
    assert_int_equal(bk_phantom_new(&options, &b, NULL), BK_OK);
    assert_int_equal(bk_phantom_frame(a, 0, 3, alone, n, NULL), BK_OK);
    assert_int_equal(bk_phantom_frame(b, 0, 1, after, n, NULL), BK_OK);
    assert_int_equal(bk_phantom_frame(b, 0, 3, after, n, NULL), BK_OK);
    assert_memory_equal(alone, after, n * sizeof *alone);
    bk_phantom_free(a);
    bk_phantom_free(b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_carm__magnifies_by_similar_triangles),
        cmocka_unit_test(test_carm__angles_point_as_the_standard_says),
        cmocka_unit_test(test_path__through_a_straight_tube_is_the_chord),
        cmocka_unit_test(test_path__through_a_cone_is_the_quadratic),
        cmocka_unit_test(test_path__counts_an_overlap_once),
        cmocka_unit_test(test_shadow__follows_beer_and_lambert_pixel_by_pixel),
        cmocka_unit_test(test_shadow__of_a_thin_tube_has_the_right_area),
        cmocka_unit_test(test_shadow__blur_keeps_what_is_absorbed),
        cmocka_unit_test(test_scatter__adds_its_share_and_spreads_as_asked),
        cmocka_unit_test(test_detector__noise_has_the_moments_of_poisson),
        cmocka_unit_test(test_phantom__same_seed_same_picture),
        cmocka_unit_test(test_phantom__a_frame_is_the_same_in_any_order),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, start, stop);
}
