/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/ridge.h"

#include <math.h>

#include "core/image/gauss.h"
#include "core/image/linear.h"
#include "core/image/wide.h"

#define HALVE_FROM 2.0 /* px of blur: more than that and every second pixel tells as much */

static float strength_at(const float *p, size_t cols)
{
    const float centre = 2 * p[0];
    const float xx = p[1] + p[-1] - centre;
    const float yy = p[cols] + p[-(ptrdiff_t)cols] - centre;
    const float xy =
        0.25F * (p[cols + 1] + p[-(ptrdiff_t)cols - 1] - p[-(ptrdiff_t)cols + 1] - p[(ptrdiff_t)cols - 1]);
    const float trace = xx + yy;
    if (trace <= 0) /* the larger curvature is not the upward one */
        return 0;
    const float half_gap = sqrtf(0.25F * (xx - yy) * (xx - yy) + xy * xy);
    return 0.5F * trace + half_gap;
}

/* Response of one scale, on the grid of `smooth`; the border row and column stay 0. */
BK_WIDE static void respond(const bk_image *smooth, float factor, bk_image *out)
{
    const size_t cols = (size_t)smooth->cols;
    for (int32_t r = 1; r + 1 < smooth->rows; r++) {
        const float *in = smooth->px + (size_t)r * cols;
        float *to = out->px + (size_t)r * cols;
        for (size_t c = 1; c + 1 < cols; c++)
            to[c] = factor * strength_at(in + c, cols);
    }
}

/* Full-size row of a response on a grid halved `levels` times, bilinear. line: response->cols + 2 floats of room; what lies beyond the
   outermost columns is as they are. Columns of one phase are alike: their neighbours and shares are the same. */
BK_WIDE static void enlarge_row(const bk_image *response, int levels, int32_t row, float *line, int32_t cols, float *out)
{
    const int32_t size = 1 << levels, n = response->cols;
    const float shift = 0.5F * (float)(size - 1);
    const float y = fminf(fmaxf(((float)row - shift) / (float)size, 0), (float)response->rows - 1.001F);
    const int32_t r = (int32_t)y;
    const float down = y - (float)r, *a = response->px + (size_t)r * (size_t)n, *b = a + n;
    for (int32_t c = 0; c < n; c++)
        line[c + 1] = a[c] + down * (b[c] - a[c]);
    line[0] = line[1];
    line[n + 1] = line[n];
    for (int32_t phase = 0; phase < size; phase++) {
        const float x = ((float)phase - shift) / (float)size;
        const float *left = line + (x < 0 ? 0 : 1), share = x < 0 ? 1 + x : x;
        const int32_t most = (cols - phase + size - 1) / size, count = most < n ? most : n;
        for (int32_t k = 0; k < count; k++)
            out[(size_t)k * (size_t)size + (size_t)phase] = left[k] + share * (left[k + 1] - left[k]);
    }
    for (int32_t c = n * size; c < cols; c++)
        out[c] = line[n];
}

/* The path wants the sharpest line (exponent 3/2), the width the scale that holds the most contrast (exponent 2):
   a wire inside a lumen wins the first and must not win the second. */
BK_WIDE static void keep_larger(const float *value, size_t n, float sigma_px, float *strength, float *widest, float *sigma)
{
    const float root = sqrtf(sigma_px);
    for (size_t k = 0; k < n; k++) {
        const float v = value[k], wide = v * root;
        strength[k] = v > strength[k] ? v : strength[k];
        sigma[k] = wide > widest[k] ? sigma_px : sigma[k];
        widest[k] = wide > widest[k] ? wide : widest[k];
    }
}

static bk_status take_scale(const bk_image *response, int levels, float sigma_px, bk_image *widest, bk_arena *arena,
                            bk_ridge *out, bk_err *err)
{
    const int32_t cols = widest->cols;
    float *row = NULL, *line = NULL;
    if (levels > 0) {
        row = BK_NEW_RAW(arena, cols, float, err);
        line = BK_NEW_RAW(arena, response->cols + 2, float, err);
        if (!row || !line)
            return err ? err->status : BK_E_LIMIT;
    }
    for (int32_t r = 0; r < widest->rows; r++) {
        const size_t at = (size_t)r * (size_t)cols;
        if (levels > 0)
            enlarge_row(response, levels, r, line, cols, row);
        keep_larger(levels > 0 ? row : response->px + at, (size_t)cols, sigma_px, out->strength.px + at, widest->px + at,
                    out->sigma_px.px + at);
    }
    return BK_OK;
}

typedef struct pyramid {
    bk_image image; /* smoothed, halved `levels` times */
    int levels;
    double spread_px2; /* variance of the smoothing so far, in full-size px^2 */
} pyramid;

/* Blur that is not asked for, as a variance in px^2 of a grid halved `levels` times: a second difference is a second
   derivative smoothed by a triangle (1/6), and so is what lies between the grid's points (1/6 on average). Unless it is
   counted, coarse scales answer as still coarser ones, but less, and the best scale reads too wide. */
static double unasked_px2(int levels)
{
    return (levels > 0 ? 2.0 : 1.0) / 6 * pow(4, levels);
}

/* Bring the pyramid's image to the next scale: blur by what is missing, halve when that loses nothing. */
static bk_status advance(pyramid *p, double sigma_px, bk_arena *arena, bk_err *err)
{
    bk_status status = BK_OK;
    int levels = p->levels;
    double halving = 0; /* the mean of two pixels adds the square of half their distance */
    for (; sigma_px / (1 << levels) >= HALVE_FROM && p->image.rows >> (levels - p->levels) > 16 &&
           p->image.cols >> (levels - p->levels) > 16; levels++)
        halving += 0.25 * pow(4, levels);
    const double wanted = sigma_px * sigma_px - unasked_px2(levels) - halving;
    const double missing = sqrt(fmax(wanted - p->spread_px2, 0)) / (1 << p->levels);
    if (missing > 0.3) {
        status = bk_gauss_blur(&p->image, missing, arena, &p->image, err);
        p->spread_px2 = wanted;
    }
    p->spread_px2 += halving;
    for (; status == BK_OK && p->levels < levels; p->levels++) {
        bk_image half;
        status = bk_image_halve(&p->image, arena, &half, err);
        p->image = half;
    }
    return status;
}

bk_status bk_ridge_filter(const bk_image *log_image, const double *sigma_px, int n, bk_arena *arena, bk_ridge *out,
                          bk_err *err)
{
    bk_status status = bk_image_new(log_image->rows, log_image->cols, arena, &out->strength, err);
    if (status == BK_OK)
        status = bk_image_new(log_image->rows, log_image->cols, arena, &out->sigma_px, err);
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    pyramid p = {0};
    bk_image widest = {0};
    if (status == BK_OK)
        status = bk_image_new(log_image->rows, log_image->cols, arena, &widest, err);
    if (status == BK_OK)
        status = bk_image_crop(log_image, 0, 0, log_image->rows, log_image->cols, arena, &p.image, err);
    for (int i = 0; status == BK_OK && i < n; i++) {
        bk_image response;
        status = advance(&p, sigma_px[i], arena, err);
        const bk_arena_mark inner = bk_arena_take_mark(arena);
        if (status == BK_OK)
            status = bk_image_new(p.image.rows, p.image.cols, arena, &response, err);
        if (status != BK_OK)
            break;
        /* differences on a grid halved L times are 4^L times too large for derivatives per full-size px */
        respond(&p.image, (float)(pow(sigma_px[i], 1.5) / pow(4, p.levels)), &response);
        status = take_scale(&response, p.levels, (float)sigma_px[i], &widest, arena, out, err);
        bk_arena_rewind(arena, inner);
    }
    bk_arena_rewind(arena, mark);
    return status;
}
