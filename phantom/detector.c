/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "phantom/detector.h"

#include <math.h>
#include <string.h>

#include "base/order.h"

#define COARSE 8 /* scatter is smooth over many pixels: worked on blocks of 8 x 8 */

static double at(const float *f, int32_t cols, int32_t r, int32_t c)
{
    return (double)f[(size_t)r * (size_t)cols + (size_t)c];
}

/* Normalised Gaussian along one direction of a small field: what lies outside counts as the mean of what is
 * inside. */
static void smooth_lines(const double *in, double *out, int32_t n, int32_t lines, size_t stride, size_t next,
                         double sigma)
{
    for (int32_t l = 0; l < lines; l++)
        for (int32_t i = 0; i < n; i++) {
            double sum = 0, weight = 0;
            for (int32_t j = 0; j < n; j++) {
                const double w = exp(-0.5 * ((i - j) / sigma) * ((i - j) / sigma));
                sum += w * in[(size_t)l * next + (size_t)j * stride];
                weight += w;
            }
            out[(size_t)l * next + (size_t)i * stride] = sum / weight;
        }
}

static void to_blocks(const float *field, int32_t cols, int32_t down, int32_t across, double *blocks)
{
    for (int32_t r = 0; r < down * COARSE; r++)
        for (int32_t c = 0; c < across * COARSE; c++)
            blocks[r / COARSE * across + c / COARSE] += at(field, cols, r, c) / (COARSE * COARSE);
}

/* Value of the blocks between their centres. */
static double between_blocks(const double *blocks, int32_t down, int32_t across, int32_t r, int32_t c)
{
    double y = (r + 0.5) / COARSE - 0.5, x = (c + 0.5) / COARSE - 0.5;
    y = y < 0 ? 0 : y > down - 1 ? down - 1 : y;
    x = x < 0 ? 0 : x > across - 1 ? across - 1 : x;
    const int32_t i = y > down - 2 ? down - 2 : (int32_t)y, j = x > across - 2 ? across - 2 : (int32_t)x;
    const double f = x - j, g = y - i;
    const double *p = &blocks[i * across + j];
    return (1 - g) * ((1 - f) * p[0] + f * p[1]) + g * ((1 - f) * p[across] + f * p[across + 1]);
}

bk_status ph_detector_scatter(float *field, int32_t rows, int32_t cols, double scatter, double sigma_px,
                              bk_arena *arena, bk_err *err)
{
    const int32_t down = rows / COARSE, across = cols / COARSE;
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    double *blocks = BK_NEW(arena, down * across, double, err);
    double *work = BK_NEW(arena, down * across, double, err);
    if (!blocks || !work)
        return err->status;
    to_blocks(field, cols, down, across, blocks);
    smooth_lines(blocks, work, across, down, 1, (size_t)across, sigma_px / COARSE);
    smooth_lines(work, blocks, down, across, (size_t)across, 1, sigma_px / COARSE);
    for (int32_t r = 0; r < rows; r++)
        for (int32_t c = 0; c < cols; c++)
            field[(size_t)r * (size_t)cols + (size_t)c] +=
                (float)(scatter * between_blocks(blocks, down, across, r, c));
    bk_arena_rewind(arena, mark);
    return BK_OK;
}

bk_status ph_detector_quantile(const float *field, size_t n, double share, bk_arena *arena, double *out,
                               bk_err *err)
{
    const size_t skip = 13, m = n / skip; /* a sample is enough, and no multiple of a row */
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    float *sample = BK_NEW(arena, m, float, err);
    if (!sample)
        return err->status;
    for (size_t i = 0; i < m; i++)
        sample[i] = field[i * skip];
    bk_sort_floats(sample, m);
    *out = (double)sample[(size_t)(share * (double)(m - 1))];
    bk_arena_rewind(arena, mark);
    return BK_OK;
}

/* 3 x 3 binomial smoothing, for the edge enhancement of the display curve. */
static double smoothed(const float *f, int32_t rows, int32_t cols, int32_t r, int32_t c)
{
    double sum = 0;
    for (int32_t i = -1; i <= 1; i++)
        for (int32_t j = -1; j <= 1; j++) {
            const int32_t y = r + i < 0 ? 0 : r + i >= rows ? rows - 1 : r + i;
            const int32_t x = c + j < 0 ? 0 : c + j >= cols ? cols - 1 : c + j;
            sum += (i ? 1 : 2) * (j ? 1 : 2) * at(f, cols, y, x) / 16;
        }
    return sum;
}

/* Share 0..1 of the grey scale. The display curve (power 0.6, then sharpened) stands for processing that
   cannot be undone; its form is ours. */
static double grey(const float *share, int32_t rows, int32_t cols, int32_t r, int32_t c,
                   bk_phantom_curve curve)
{
    const double x = at(share, cols, r, c);
    if (curve == BK_PHANTOM_CURVE_LOG)
        return x > 0 ? 1 + log(x) / PH_LOG_SPAN : 0;
    if (curve == BK_PHANTOM_CURVE_DISPLAY)
        return x + 0.8 * (x - smoothed(share, rows, cols, r, c));
    return x;
}

bk_status ph_detector_store(const float *field, int32_t rows, int32_t cols, const ph_exposure *exposure,
                            bk_random *random, bk_arena *arena, uint16_t *out, bk_err *err)
{
    const size_t n = (size_t)rows * (size_t)cols;
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    float *share = BK_NEW(arena, n, float, err);
    if (!share)
        return err->status;
    for (size_t i = 0; i < n; i++) {
        double quanta = (double)field[i] * exposure->photons_per_unit;
        if (exposure->noise)
            quanta =
                bk_random_poisson(random, quanta) + exposure->electronic_photons * bk_random_normal(random);
        const double x = fmax(0, 0.8 * quanta / exposure->top_photons);
        share[i] = (float)(exposure->curve == BK_PHANTOM_CURVE_DISPLAY ? pow(x, 0.6) : x);
    }
    const double top = (double)((1 << exposure->bits) - 1);
    for (int32_t r = 0; r < rows; r++)
        for (int32_t c = 0; c < cols; c++) {
            const double v = floor(grey(share, rows, cols, r, c, exposure->curve) * top + 0.5);
            out[(size_t)r * (size_t)cols + (size_t)c] = (uint16_t)(v < 0 ? 0 : v > top ? top : v);
        }
    bk_arena_rewind(arena, mark);
    return BK_OK;
}
