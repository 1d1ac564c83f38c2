/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A third branch at a limb, on straight round lumens drawn by their chord (Beer-Lambert, plane geometry), with noise. */
#include "support/arena.h"

#include "base/random.h"
#include "core/anatomy/mouth.h"
#include "core/image/linear.h"

#define MM 0.25
#define SIDE 260
#define LIMB_MM 3.0
#define MIDDLE 130 /* where the branch leaves, px */
#define DENSITY_PER_MM 0.15

typedef struct branch {
    double diameter_mm, angle_deg; /* to the limb's direction; 0 mm: none */
    bool crosses;                  /* goes on on the other side */
    double shadow;                 /* darker by this below a slanting edge */
} branch;

static double chord(double off_mm, double d)
{
    return off_mm * off_mm < d * d / 4 ? 2 * sqrt(d * d / 4 - off_mm * off_mm) : 0;
}

static bk_image draw(branch b)
{
    bk_image image;
    bk_random random;
    const double a = b.angle_deg * 3.14159265358979 / 180, tx = cos(a), ty = -sin(a);
    assert_int_equal(bk_image_new(SIDE, SIDE, &arena, &image, NULL), BK_OK);
    bk_random_seed(&random, 3);
    for (int32_t r = 0; r < SIDE; r++)
        for (int32_t c = 0; c < SIDE; c++) {
            const double x = (c - MIDDLE) * MM, y = (r - MIDDLE) * MM, along = x * tx + y * ty;
            const double other = b.crosses || along > 0 ? chord(x * ty - y * tx, b.diameter_mm) : 0;
            const double shadow = b.shadow * (y + 0.1 * x > 2 ? 1 : 0);
            image.px[r * SIDE + c] =
                (float)(7 - shadow - DENSITY_PER_MM * fmax(chord(y, LIMB_MM), other) + 0.02 * bk_random_normal(&random));
        }
    return image;
}

/* mm from the branch's middle to the mouth that is found; NaN: none. */
static double look(branch b)
{
    enum { N = 400 };
    const bk_image image = draw(b);
    bk_lumen_limb limb = {.n = N, .step_px = 0.5};
    bk_mouth mouth;
    bool found = false;
    limb.axis = BK_NEW(&arena, N, bk_pt_px, NULL);
    limb.normal = BK_NEW(&arena, N, bk_pt_px, NULL);
    limb.diameter_px = BK_NEW(&arena, N, double, NULL);
    for (int i = 0; i < N; i++) {
        limb.axis[i] = (bk_pt_px){30 + 0.5 * i, MIDDLE};
        limb.normal[i] = (bk_pt_px){0, -1};
        limb.diameter_px[i] = LIMB_MM / MM;
    }
    assert_int_equal(bk_mouth_find(&image, &limb, 20, MM, &arena, &found, &mouth, NULL), BK_OK);
    return found ? (limb.axis[(mouth.from + mouth.to) / 2].x - MIDDLE) * MM : (double)NAN;
}

static void test_mouth__of_a_sizable_branch_is_found(void **state)
{
    (void)state;
    for (int angle = 40; angle <= 140; angle += 20) {
        /* geometry: the branch lies over the probes, 0.7 to 2.2 mm beyond the wall, at (r + 1.45) / tan */
        const double expected = (0.5 * LIMB_MM + 1.45) / tan(angle * 3.14159265358979 / 180);
        assert_near(look((branch){2.0, angle, false, 0}), expected, 0.8);
        assert_near(look((branch){2.8, angle, false, 0}), expected, 0.8);
    }
}

static void test_mouth__twigs_crossings_and_shadows_are_none(void **state)
{
    (void)state;
    assert_true(isnan(look((branch){0, 60, false, 0})));
    assert_true(isnan(look((branch){0.7, 60, false, 0})));
    for (int angle = 40; angle <= 140; angle += 20)
        assert_true(isnan(look((branch){2.5, angle, true, 0})));
    assert_true(isnan(look((branch){0, 60, false, 0.25})));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_mouth__of_a_sizable_branch_is_found, start, stop),
        cmocka_unit_test_setup_teardown(test_mouth__twigs_crossings_and_shadows_are_none, start, stop),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
