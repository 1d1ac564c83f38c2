/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/linear.h"

#include <math.h>
#include <string.h>

bk_status bk_image_new_raw(int32_t rows, int32_t cols, bk_arena *arena, bk_image *out, bk_err *err)
{
    *out = (bk_image){.rows = rows, .cols = cols};
    out->px = BK_NEW_RAW(arena, (size_t)rows * (size_t)cols, float, err);
    return out->px ? BK_OK : err ? err->status : BK_E_LIMIT;
}

bk_status bk_image_new(int32_t rows, int32_t cols, bk_arena *arena, bk_image *out, bk_err *err)
{
    const bk_status status = bk_image_new_raw(rows, cols, arena, out, err);
    if (status == BK_OK)
        memset(out->px, 0, (size_t)rows * (size_t)cols * sizeof *out->px);
    return status;
}

bk_status bk_image_from_stored(const bk_stored *stored, bk_arena *arena, bk_image *out, bk_err *err)
{
    bk_status status = bk_image_new_raw(stored->rows, stored->cols, arena, out, err);
    if (status != BK_OK)
        return status;
    const size_t n = (size_t)stored->rows * (size_t)stored->cols;
    float low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < n; i++) {
        const uint16_t v = stored->px[i];
        const float value = stored->modality && v < stored->modality_n ? stored->modality[v] : (float)v;
        out->px[i] = value;
        low = value < low ? value : low;
        high = value > high ? value : high;
    }
    if (!(high > low))
        return bk_fail(err, BK_E_DATA, "every pixel of the frame has the same value, a picture was expected");
    /* a reversed scale is turned about its full range, which is where its zero intensity lies */
    const float full = stored->modality ? high : (float)(stored->modality_n - 1);
    const float smallest = stored->grey == BK_GREY_LINEAR ? 0.5F : 0.0F;
    for (size_t i = 0; i < n; i++) {
        const float value = stored->sign < 0 ? full - out->px[i] : out->px[i];
        out->px[i] = value > smallest ? value : smallest;
    }
    return BK_OK;
}

bk_status bk_image_log(const bk_image *intensity, bk_grey grey, bk_arena *arena, bk_image *out, bk_err *err)
{
    bk_status status = bk_image_new_raw(intensity->rows, intensity->cols, arena, out, err);
    if (status != BK_OK)
        return status;
    const size_t n = (size_t)intensity->rows * (size_t)intensity->cols;
    if (grey == BK_GREY_LINEAR) {
        for (size_t i = 0; i < n; i++)
            out->px[i] = logf(intensity->px[i]);
        return BK_OK;
    }
    float high = 0;
    for (size_t i = 0; i < n; i++)
        high = intensity->px[i] > high ? intensity->px[i] : high;
    for (size_t i = 0; i < n; i++)
        out->px[i] = 4 * intensity->px[i] / high;
    return BK_OK;
}

bk_status bk_image_crop(const bk_image *image, int32_t row0, int32_t col0, int32_t rows, int32_t cols,
                        bk_arena *arena, bk_image *out, bk_err *err)
{
    bk_status status = bk_image_new_raw(rows, cols, arena, out, err);
    for (int32_t r = 0; status == BK_OK && r < rows; r++)
        memcpy(out->px + (size_t)r * (size_t)cols,
               image->px + (size_t)(row0 + r) * (size_t)image->cols + (size_t)col0, (size_t)cols * sizeof(float));
    return status;
}

static double catmull_rom(const double p[4], double t)
{
    const double a = 0.5 * (-p[0] + 3 * p[1] - 3 * p[2] + p[3]);
    const double b = 0.5 * (2 * p[0] - 5 * p[1] + 4 * p[2] - p[3]);
    const double c = 0.5 * (p[2] - p[0]);
    return ((a * t + b) * t + c) * t + p[1];
}

static int32_t clamped(int32_t v, int32_t n)
{
    return v < 0 ? 0 : v >= n ? n - 1 : v;
}

double bk_image_sample(const bk_image *image, double x, double y)
{
    x = fmin(fmax(x, 0), image->cols - 1);
    y = fmin(fmax(y, 0), image->rows - 1);
    const int32_t col = (int32_t)x, row = (int32_t)y;
    double lines[4];
    for (int32_t i = 0; i < 4; i++) {
        const int32_t r = clamped(row - 1 + i, image->rows);
        double p[4];
        for (int32_t j = 0; j < 4; j++)
            p[j] = (double)bk_image_at(image, r, clamped(col - 1 + j, image->cols));
        lines[i] = catmull_rom(p, x - col);
    }
    return catmull_rom(lines, y - row);
}
