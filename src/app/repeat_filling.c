/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/repeat_filling.h"

#include <math.h>

#include "app/repeat_course.h"
#include "base/order.h"

#define BIN_MM 1.0
#define BAND_MORE_MM 0.4 /* either side: the blur, and an axis that is a little off */

/* Width of the healthy limb: the upper quartile, a lesion may be long. NaN: the limb has no measured lumen. */
static double usual_width(const bk_json *answer, int limb, bk_arena *arena, bk_err *err)
{
    const bk_json *profile = bk_json_get(bk_json_get(bk_json_get(answer, "segments"), bk_limb_name(limb)), "profile");
    const bk_json *left = bk_json_get(profile, "left_px"), *right = bk_json_get(profile, "right_px");
    const size_t n = bk_json_count(left);
    double *width = n ? BK_NEW(arena, n, double, err) : NULL;
    if (!width)
        return NAN;
    for (size_t i = 0; i < n; i++)
        width[i] = bk_px_distance(bk_answer_point(bk_json_at(left, i)), bk_answer_point(bk_json_at(right, i)));
    return bk_select(width, n, 3 * n / 4);
}

bk_status bk_limb_filling_start(const bk_json *answer, double mm_per_px, bk_arena *arena, bk_limb_filling filling[BK_LIMBS], bk_err *err)
{
    for (int k = 0; k < BK_LIMBS; k++) {
        bk_limb_filling *f = &filling[k];
        f->bin_px = BIN_MM / mm_per_px;
        f->half_px = 0.5 * usual_width(answer, k, arena, err) + BAND_MORE_MM / mm_per_px;
        for (int i = 0; i < BK_REPEAT_MAX; i++)
            bk_limb_filling_drop(f, i);
    }
    return err->status;
}

static bk_status take_limb(const bk_json *answer, int limb, const bk_image *log_image, int row, bk_arena *arena, bk_limb_filling *f,
                           bk_err *err)
{
    const bk_answer_axis a = bk_answer_axis_of(answer, limb);
    if (a.n < 2 || !isfinite(f->half_px))
        return BK_OK;
    bk_pt_px *axis = BK_NEW(arena, a.n, bk_pt_px, err), *normal = BK_NEW(arena, a.n, bk_pt_px, err);
    if (!axis || !normal)
        return err->status;
    for (size_t i = 0; i < a.n; i++)
        axis[i] = bk_answer_axis_point(&a, i);
    const bk_curve curve = {axis, a.n, 1};
    bk_curve_normals(&curve, normal);
    const double start = bk_px_distance(bk_answer_point(bk_json_get(answer, "branch_point_px")), axis[0]);
    bk_filling_areas(log_image, axis, normal, a.n, start, f->half_px, f->bin_px, f->area[row]);
    /* one width beyond the ostium the limbs no longer overlie */
    const size_t clear = (size_t)ceil((start + 2 * f->half_px) / f->bin_px);
    f->first_bin = clear > f->first_bin ? clear : f->first_bin;
    return BK_OK;
}

bk_status bk_limb_filling_take(const bk_json *answer, const bk_image *log_image, int row, bk_arena *arena,
                               bk_limb_filling filling[BK_LIMBS], bk_err *err)
{
    bk_status status = BK_OK;
    for (int k = 0; status == BK_OK && k < BK_LIMBS; k++)
        status = take_limb(answer, k, log_image, row, arena, &filling[k], err);
    return status;
}

void bk_limb_filling_drop(bk_limb_filling *filling, int row)
{
    for (size_t b = 0; b < BK_FILLING_BINS; b++)
        filling->area[row][b] = NAN;
}

bk_filling bk_limb_filling_of(const bk_limb_filling *filling, int rows, int row)
{
    return bk_filling_compare((const double (*)[BK_FILLING_BINS])filling->area, (size_t)rows, (size_t)row, filling->first_bin);
}
