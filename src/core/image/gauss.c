/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/gauss.h"

#include <math.h>
#include <string.h>

#include "core/image/linear.h"
#include "core/image/wide.h"

#define HALF_MAX 144 /* taps on one side at sigma 40 */

static int kernel_of(double sigma_px, float taps[HALF_MAX + 1])
{
    int half = (int)ceil(3.5 * sigma_px);
    if (half > HALF_MAX)
        half = HALF_MAX;
    double sum = 0;
    for (int i = 0; i <= half; i++) {
        const double t = exp(-0.5 * i * i / (sigma_px * sigma_px));
        taps[i] = (float)t;
        sum += i == 0 ? t : 2 * t;
    }
    for (int i = 0; i <= half; i++)
        taps[i] = (float)((double)taps[i] / sum);
    return half;
}

static int32_t mirrored(int32_t i, int32_t n)
{
    const int32_t period = 2 * n;
    i = ((i % period) + period) % period;
    return i < n ? i : period - 1 - i;
}

/* One line with its borders mirrored into line[-half .. n+half-1], then filtered. */
BK_WIDE static void blur_line(const float *in, float *out, int32_t n, const float *taps, int half, float *line)
{
    memcpy(line + half, in, (size_t)n * sizeof *in);
    for (int32_t i = 1; i <= half; i++) {
        line[half - i] = in[mirrored(-i, n)];
        line[half + n - 1 + i] = in[mirrored(n - 1 + i, n)];
    }
    const float *centre = line + half;
    for (int32_t j = 0; j < n; j++)
        out[j] = taps[0] * centre[j];
    for (int k = 1; k <= half; k++)
        for (int32_t j = 0; j < n; j++)
            out[j] += taps[k] * (centre[j - k] + centre[j + k]);
}

/* Filter down the columns a whole row at a time, so that memory is read in order. */
BK_WIDE static void blur_columns(const bk_image *in, bk_image *out, const float *taps, int half)
{
    const size_t cols = (size_t)in->cols;
    for (int32_t r = 0; r < in->rows; r++) {
        float *to = out->px + (size_t)r * cols;
        const float *middle = in->px + (size_t)r * cols;
        for (size_t j = 0; j < cols; j++)
            to[j] = taps[0] * middle[j];
        for (int k = 1; k <= half; k++) {
            const float *above = in->px + (size_t)mirrored(r - k, in->rows) * cols;
            const float *below = in->px + (size_t)mirrored(r + k, in->rows) * cols;
            for (size_t j = 0; j < cols; j++)
                to[j] += taps[k] * (above[j] + below[j]);
        }
    }
}

bk_status bk_gauss_blur(const bk_image *in, double sigma_px, bk_arena *arena, bk_image *out, bk_err *err)
{
    float taps[HALF_MAX + 1];
    const int half = kernel_of(sigma_px, taps);
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    bk_image rows_done;
    float *line = BK_NEW(arena, (size_t)in->cols + 2 * (size_t)half, float, err);
    if (!line || bk_image_new_raw(in->rows, in->cols, arena, &rows_done, err) != BK_OK) {
        bk_arena_rewind(arena, mark);
        return err ? err->status : BK_E_LIMIT;
    }
    for (int32_t r = 0; r < in->rows; r++) {
        const size_t at = (size_t)r * (size_t)in->cols;
        blur_line(in->px + at, rows_done.px + at, in->cols, taps, half, line);
    }
    blur_columns(&rows_done, out, taps, half);
    bk_arena_rewind(arena, mark);
    return BK_OK;
}

bk_status bk_image_halve(const bk_image *in, bk_arena *arena, bk_image *out, bk_err *err)
{
    bk_status status = bk_image_new_raw(in->rows / 2, in->cols / 2, arena, out, err);
    if (status != BK_OK)
        return status;
    for (int32_t r = 0; r < out->rows; r++) {
        const float *a = in->px + (size_t)(2 * r) * (size_t)in->cols, *b = a + in->cols;
        float *to = out->px + (size_t)r * (size_t)out->cols;
        for (int32_t c = 0; c < out->cols; c++)
            to[c] = 0.25F * (a[2 * c] + a[2 * c + 1] + b[2 * c] + b[2 * c + 1]);
    }
    return BK_OK;
}
