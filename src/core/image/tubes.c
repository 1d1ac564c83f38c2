/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/tubes.h"

#include <math.h>
#include <string.h>

#define DIRECTIONS 8
#define PI 3.14159265358979323846

/* The most and the least that a pixel rises to both sides, over the directions. */
static float difference(const float *p, const ptrdiff_t step[DIRECTIONS])
{
    float most = 0, least = INFINITY;
    for (int i = 0; i < DIRECTIONS; i++) {
        const float a = p[step[i]], b = p[-step[i]];
        const float rise = (a < b ? a : b) - p[0];
        most = rise > most ? rise : most;
        least = rise < least ? rise : least;
    }
    return least > 0 ? most - least : most;
}

void bk_tubes(const bk_image *smooth, const double *distance_px, int n, bk_image *out)
{
    const ptrdiff_t cols = smooth->cols;
    int32_t margin = 1;
    for (int i = 0; i < n; i++)
        margin = (int32_t)fmax(margin, ceil(distance_px[i]));
    memset(out->px, 0, (size_t)out->rows * (size_t)out->cols * sizeof *out->px);
    for (int i = 0; i < n; i++) {
        ptrdiff_t step[DIRECTIONS];
        for (int k = 0; k < DIRECTIONS; k++)
            step[k] = lround(distance_px[i] * sin(k * PI / DIRECTIONS)) * cols + lround(distance_px[i] * cos(k * PI / DIRECTIONS));
        for (int32_t r = margin; r + margin < smooth->rows; r++)
            for (int32_t c = margin; c + margin < smooth->cols; c++) {
                const ptrdiff_t at = r * cols + c;
                const float v = difference(smooth->px + at, step);
                out->px[at] = v > out->px[at] ? v : out->px[at];
            }
    }
}
