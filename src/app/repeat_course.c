/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/repeat_course.h"

#include <math.h>
#include <string.h>

#include "base/format.h"
#include "core/image/curve.h"
#include "core/image/follow_line.h"

#define STEP_MM 2.0
#define UNSEEN_LEAST 2 /* what lies over a limb is about as wide as a patch: it takes more than one point */
#define POINTS_MAX (BK_LIMBS * BK_COURSE_MAX)

bk_answer_axis bk_answer_axis_of(const bk_json *answer, int limb)
{
    const bk_json *profile = bk_json_get(bk_json_get(bk_json_get(answer, "segments"), bk_limb_name(limb)), "profile");
    const bk_json *x = bk_json_get(profile, "x_px"), *y = bk_json_get(profile, "y_px");
    return (bk_answer_axis){x, y, bk_json_count(x)};
}

bk_pt_px bk_answer_axis_point(const bk_answer_axis *a, size_t k)
{
    return (bk_pt_px){bk_json_number(bk_json_at(a->x, k)), bk_json_number(bk_json_at(a->y, k))};
}

bk_pt_px bk_answer_point(const bk_json *pair)
{
    return (bk_pt_px){bk_json_number(bk_json_at(pair, 0)), bk_json_number(bk_json_at(pair, 1))};
}

void bk_carried_take(const bk_json *answer, double mm_per_px, bk_carried *out)
{
    const double step_px = STEP_MM / mm_per_px;
    for (int limb = 0; limb < BK_LIMBS; limb++) {
        const bk_answer_axis a = bk_answer_axis_of(answer, limb);
        bk_pt_px *to = out->course.at[limb];
        size_t n = 0;
        to[n++] = bk_answer_point(bk_json_get(answer, "branch_point_px"));
        for (size_t k = 0; k < a.n && n < BK_COURSE_MAX; k++) {
            const bk_pt_px here = bk_answer_axis_point(&a, k);
            if (bk_px_distance(here, to[n - 1]) >= step_px || k + 1 == a.n)
                to[n++] = here;
        }
        out->course.n[limb] = n;
    }
}

/* All points, limb after limb, and the normals of their limbs. */
static size_t points_of(const bk_course *course, bk_pt_px *out, bk_pt_px *normal)
{
    size_t n = 0;
    for (int i = 0; i < BK_LIMBS; i++) {
        memcpy(out + n, course->at[i], course->n[i] * sizeof *out);
        const bk_curve limb = {out + n, course->n[i], 1};
        normal[n] = (bk_pt_px){0, 1}; /* of a limb that is a branch point only */
        if (limb.n > 1)
            bk_curve_normals(&limb, normal + n);
        n += limb.n;
    }
    return n;
}

/* Take over where the points are now. The branch point, which begins each limb, is not one limb's. */
static void take_over(const bk_pt_px *at, const bool *seen, int32_t frame, bk_carried *out)
{
    for (int i = 0; i < BK_LIMBS; i++) {
        size_t unseen = 0, n = out->course.n[i];
        for (size_t k = 0; k < n; k++) {
            out->course.at[i][k] = *at++;
            unseen += !*seen++ && k > 0;
        }
        if (unseen >= UNSEEN_LEAST && !out->hidden[i][0])
            bk_format(out->hidden[i], sizeof out->hidden[i],
                      "cannot say: %zu of %zu points along the limb were not found again in frame %d, perhaps another vessel lies over it",
                      unseen, n - 1, (int)frame);
    }
}

bk_status bk_carried_follow(const bk_image *from, const bk_image *to, int32_t frame, double mm_per_px,
                            const bk_carried *was, bk_arena *arena, bk_carried *out, bk_err *err)
{
    bk_pt_px points[POINTS_MAX], normal[POINTS_MAX], at[POINTS_MAX];
    bk_followed found[POINTS_MAX];
    bool seen[POINTS_MAX];
    const size_t n = points_of(&was->course, points, normal);
    bk_status status = bk_follow_points(from, to, points, n, mm_per_px, arena, found, err);
    if (status == BK_OK)
        status = bk_follow_settle(points, normal, found, n, mm_per_px, arena, at, seen, err);
    if (status != BK_OK)
        return status;
    *out = *was;
    take_over(at, seen, frame, out);
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++)
        if (out->hidden[i][0])
            status = bk_follow_aside(from, to, was->course.at[i], out->course.at[i], out->course.n[i], mm_per_px, arena, err);
    return status;
}

void bk_carried_hide_as(const bk_carried *before, bk_carried *behind)
{
    for (int i = 0; i < BK_LIMBS; i++)
        if (before->hidden[i][0] && !behind->hidden[i][0])
            memcpy(behind->hidden[i], before->hidden[i], sizeof behind->hidden[i]);
}

bool bk_carried_hides_only(const bk_carried *carried, int limb)
{
    for (int i = 0; i < BK_LIMBS; i++)
        if ((carried->hidden[i][0] != 0) != (i == limb))
            return false;
    return true;
}

bool bk_carried_hides(const bk_carried *carried)
{
    bool hides = false;
    for (int i = 0; i < BK_LIMBS; i++)
        hides = hides || carried->hidden[i][0];
    return hides;
}

bk_pt_px bk_carried_end(const bk_carried *carried, int limb)
{
    return carried->course.at[limb][carried->course.n[limb] - 1];
}

double bk_carried_off_mm(const bk_carried *carried, int limb, const bk_json *answer, double mm_per_px)
{
    const bk_answer_axis a = bk_answer_axis_of(answer, limb);
    double most = 0;
    for (size_t k = 0; k < a.n; k++)
        most = fmax(most, bk_course_aside(&carried->course, limb, bk_answer_axis_point(&a, k)));
    return most * mm_per_px;
}
