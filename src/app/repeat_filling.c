/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/repeat_filling.h"

#include <math.h>

#include "base/order.h"

#define BIN_MM 1.0
#define BAND_MORE_MM 0.4 /* either side: the blur, and an axis that is a little off */

static bk_pt_px point_of(const bk_json *pair)
{
    return (bk_pt_px){bk_json_number(bk_json_at(pair, 0)), bk_json_number(bk_json_at(pair, 1))};
}

static const bk_json *profile_of(const bk_json *answer, int limb)
{
    return bk_json_get(bk_json_get(bk_json_get(answer, "segments"), bk_limb_name(limb)), "profile");
}

/* Width of the healthy limb: the upper quartile, a lesion may be long. NaN: the limb has no measured lumen. */
static double usual_width(const bk_json *profile, bk_arena *arena, bk_err *err)
{
    const bk_json *left = bk_json_get(profile, "left_px"), *right = bk_json_get(profile, "right_px");
    const size_t n = bk_json_count(left);
    double *width = n ? BK_NEW(arena, n, double, err) : NULL;
    if (!width)
        return NAN;
    for (size_t i = 0; i < n; i++)
        width[i] = bk_px_distance(point_of(bk_json_at(left, i)), point_of(bk_json_at(right, i)));
    return bk_select(width, n, 3 * n / 4);
}

bk_status bk_limb_filling_start(const bk_json *answer, double mm_per_px, bk_arena *arena, bk_limb_filling filling[BK_LIMBS], bk_err *err)
{
    for (int k = 0; k < BK_LIMBS; k++) {
        bk_limb_filling *f = &filling[k];
        f->bin_px = BIN_MM / mm_per_px;
        f->half_px = 0.5 * usual_width(profile_of(answer, k), arena, err) + BAND_MORE_MM / mm_per_px;
        for (int i = 0; i < BK_REPEAT_MAX; i++)
            bk_limb_filling_drop(f, i);
    }
    return err->status;
}

static bk_status take_limb(const bk_json *answer, int limb, const bk_image *log_image, int row, bk_arena *arena, bk_limb_filling *f,
                           bk_err *err)
{
    const bk_json *profile = profile_of(answer, limb);
    const bk_json *x = bk_json_get(profile, "x_px"), *y = bk_json_get(profile, "y_px");
    const size_t n = bk_json_count(x);
    if (n < 2 || !isfinite(f->half_px))
        return BK_OK;
    bk_pt_px *axis = BK_NEW(arena, n, bk_pt_px, err);
    if (!axis)
        return err->status;
    for (size_t i = 0; i < n; i++)
        axis[i] = (bk_pt_px){bk_json_number(bk_json_at(x, i)), bk_json_number(bk_json_at(y, i))};
    const double start = bk_px_distance(point_of(bk_json_get(answer, "branch_point_px")), axis[0]);
    bk_filling_areas(log_image, axis, n, start, f->half_px, f->bin_px, f->area[row]);
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
