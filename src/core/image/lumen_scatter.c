/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Scatter changes over centimetres: the image, averaged in squares and blurred by a Gaussian whose weights are
   renormalised at the borders and where pixels are masked. */
#include <math.h>

#include "core/image/lumen_internal.h"

#define SAMPLES_PER_SIGMA 4.0
#define REACH_SIGMAS 2.5

static void squares(const bk_image *image, const unsigned char *mask, const bk_lumen_scatter *s, float *sum,
                    float *weight)
{
    for (int32_t row = 0; row < image->rows; row++) {
        float *const to = sum + (size_t)(row / s->each) * (size_t)s->cols;
        float *const w = weight + (size_t)(row / s->each) * (size_t)s->cols;
        const float *const from = image->px + (size_t)row * (size_t)image->cols;
        for (int32_t col = 0; col < image->cols; col++) {
            if (mask != NULL && mask[(size_t)row * (size_t)image->cols + (size_t)col])
                continue;
            to[col / s->each] += from[col];
            w[col / s->each] += 1.0F;
        }
    }
}

/* One direction: count lines of n samples, stride apart along the line. */
static void blur_lines(const float *from, float *to, size_t lines, size_t line_step, size_t n, size_t stride,
                       double sigma)
{
    const ptrdiff_t reach = (ptrdiff_t)ceil(REACH_SIGMAS * sigma), last = (ptrdiff_t)n - 1;
    for (size_t line = 0; line < lines; line++)
        for (ptrdiff_t k = 0; k <= last; k++) {
            double sum = 0.0;
            for (ptrdiff_t j = k - reach > 0 ? k - reach : 0; j <= (k + reach < last ? k + reach : last); j++) {
                const double u = (double)(j - k) / sigma;
                sum += exp(-0.5 * u * u) * (double)from[line * line_step + (size_t)j * stride];
            }
            to[line * line_step + (size_t)k * stride] = (float)sum;
        }
}

bk_status bk_lumen_scatter_new(const bk_image *image, const unsigned char *mask, double sigma_px, bk_arena *arena,
                               bk_lumen_scatter *out, bk_err *err)
{
    out->each = (int32_t)fmax(1.0, sigma_px / SAMPLES_PER_SIGMA);
    out->rows = (image->rows + out->each - 1) / out->each;
    out->cols = (image->cols + out->each - 1) / out->each;
    const size_t rows = (size_t)out->rows, cols = (size_t)out->cols, n = rows * cols;
    float *const room = BK_NEW(arena, 4 * n, float, err);
    if (room == NULL)
        return BK_E_LIMIT;
    float *const sum = room, *const weight = room + n, *const half = room + 2 * n, *const half_weight = room + 3 * n;
    const double sigma = sigma_px / (double)out->each;
    squares(image, mask, out, sum, weight);
    blur_lines(sum, half, rows, cols, cols, 1, sigma);
    blur_lines(weight, half_weight, rows, cols, cols, 1, sigma);
    blur_lines(half, sum, cols, 1, rows, cols, sigma);
    blur_lines(half_weight, weight, cols, 1, rows, cols, sigma);
    for (size_t k = 0; k < n; k++)
        sum[k] = weight[k] > 0.0F ? sum[k] / weight[k] : 0.0F;
    out->mean = sum;
    return BK_OK;
}

float bk_lumen_scatter_at(const bk_lumen_scatter *scatter, int32_t row, int32_t col)
{
    const float each = (float)scatter->each;
    const float y = fmaxf(((float)row + 0.5F) / each - 0.5F, 0.0F), x = fmaxf(((float)col + 0.5F) / each - 0.5F, 0.0F);
    const int32_t r = (int32_t)y < scatter->rows - 1 ? (int32_t)y : scatter->rows - 1;
    const int32_t c = (int32_t)x < scatter->cols - 1 ? (int32_t)x : scatter->cols - 1;
    const int32_t r1 = r + 1 < scatter->rows ? r + 1 : r, c1 = c + 1 < scatter->cols ? c + 1 : c;
    const float fy = y - (float)r, fx = x - (float)c, *const m = scatter->mean;
    const float top = m[r * scatter->cols + c] * (1.0F - fx) + m[r * scatter->cols + c1] * fx;
    const float low = m[r1 * scatter->cols + c] * (1.0F - fx) + m[r1 * scatter->cols + c1] * fx;
    return top * (1.0F - fy) + low * fy;
}
