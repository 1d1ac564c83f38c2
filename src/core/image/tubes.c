/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/tubes.h"

#include <math.h>
#include <string.h>

#include "base/order.h"

#define DIRECTIONS 8
#define NEAR_MM 2.0
#define DISTANCE_MAX_PX 40.0
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

void bk_tubes_distances(double mm_per_px, double distance_px[2])
{
    distance_px[0] = fmin(fmax(NEAR_MM / mm_per_px, 2), DISTANCE_MAX_PX);
    distance_px[1] = fmin(fmax(BK_TUBES_FAR_MM / mm_per_px, 3), DISTANCE_MAX_PX);
}

float bk_tubes_median(const bk_image *tubes, float *scratch)
{
    const size_t n = (size_t)tubes->rows * (size_t)tubes->cols;
    size_t answering = 0;
    for (size_t i = 0; i < n; i++)
        if (tubes->px[i] > 0)
            scratch[answering++] = tubes->px[i];
    bk_sort_floats(scratch, answering);
    return answering ? scratch[answering / 2] : 0;
}
