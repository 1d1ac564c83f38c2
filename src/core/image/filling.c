/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/filling.h"

#include <math.h>

#include "base/order.h"

#define SAMPLE_PX 0.5
#define STRIP_PX 2.0
#define NEAR 2 /* stretches either side of one whose median stands for it */
#define SHIFT 2

static double mean_between(const bk_image *image, bk_pt_px p, bk_pt_px normal, double from, double to)
{
    const int n = (int)fmax(ceil((to - from) / SAMPLE_PX), 1);
    double sum = 0;
    for (int i = 0; i < n; i++) {
        const double o = from + (i + 0.5) * (to - from) / n;
        sum += (double)bk_image_bilinear(image, (float)(p.x + o * normal.x), (float)(p.y + o * normal.y));
    }
    return sum / n;
}

/* A background that is linear across has the mean of its two strips as its mean in the band. */
static double area_at(const bk_image *image, bk_pt_px p, bk_pt_px normal, double half_px)
{
    const double left = mean_between(image, p, normal, -half_px - STRIP_PX, -half_px);
    const double right = mean_between(image, p, normal, half_px, half_px + STRIP_PX);
    return (0.5 * (left + right) - mean_between(image, p, normal, -half_px, half_px)) * 2 * half_px;
}

static bk_pt_px normal_at(const bk_pt_px *axis, size_t n, size_t i)
{
    const bk_pt_px a = axis[i ? i - 1 : 0], b = axis[i + 1 < n ? i + 1 : n - 1];
    const double length = fmax(bk_px_distance(a, b), 1e-9);
    return (bk_pt_px){(b.y - a.y) / length, -(b.x - a.x) / length};
}

void bk_filling_areas(const bk_image *log_image, const bk_pt_px *axis, size_t n, double start_px, double half_px, double bin_px,
                      double area[BK_FILLING_BINS])
{
    double sum[BK_FILLING_BINS] = {0}, length[BK_FILLING_BINS] = {0}, s = start_px;
    for (size_t i = 1; i < n; i++) {
        const double step = bk_px_distance(axis[i - 1], axis[i]);
        s += step;
        if (s >= BK_FILLING_BINS * bin_px)
            break;
        const size_t bin = (size_t)(s / bin_px);
        sum[bin] += step * area_at(log_image, axis[i], normal_at(axis, n, i), half_px);
        length[bin] += step;
    }
    for (size_t b = 0; b < BK_FILLING_BINS; b++)
        area[b] = length[b] >= 0.5 * bin_px ? sum[b] / length[b] : (double)NAN;
}

/* Median of a stretch and its neighbours, as far as they are there; NaN where the stretch itself is not. */
static double smooth(const double area[BK_FILLING_BINS], size_t bin, size_t first_bin)
{
    double near[2 * NEAR + 1];
    size_t n = 0;
    for (size_t b = bin > first_bin + NEAR ? bin - NEAR : first_bin; b <= bin + NEAR && b < BK_FILLING_BINS; b++)
        if (isfinite(area[b]))
            near[n++] = area[b];
    return isfinite(area[bin]) ? bk_median(near, n) : (double)NAN;
}

/* A stretch of another frame: the least within SHIFT, since along a vessel frames are laid side by side within a mm or two only,
   and at a lesion's shoulder that would look like missing contrast. */
static double laid_beside(const double area[BK_FILLING_BINS], size_t bin, size_t first_bin)
{
    double least = smooth(area, bin, first_bin);
    for (size_t b = bin > first_bin + SHIFT ? bin - SHIFT : first_bin; b <= bin + SHIFT && b < BK_FILLING_BINS; b++) {
        const double found = smooth(area, b, first_bin);
        least = found < least ? found : least;
    }
    return least;
}

/* What is usual along the limb: median of the stretches' best. */
static double usual_area(const double (*area)[BK_FILLING_BINS], size_t frames, size_t first_bin)
{
    double found[BK_FILLING_BINS];
    size_t n = 0;
    for (size_t b = first_bin; b < BK_FILLING_BINS; b++) {
        double most = NAN;
        for (size_t k = 0; k < frames; k++)
            most = isfinite(area[k][b]) && !(area[k][b] <= most) ? area[k][b] : most;
        if (isfinite(most))
            found[n++] = most;
    }
    return bk_median(found, n);
}

bk_filling bk_filling_least(const double (*area)[BK_FILLING_BINS], size_t frames, size_t own, size_t first_bin)
{
    const double usual = usual_area(area, frames, first_bin);
    bk_filling out = {NAN, own};
    for (size_t b = first_bin; usual > 0 && b < BK_FILLING_BINS; b++) {
        const double here = smooth(area[own], b, first_bin);
        for (size_t k = 0; k < frames; k++) {
            const double other = laid_beside(area[k], b, first_bin);
            const double ratio = 1 - fmax(other - here, 0) / fmax(other, usual);
            if (isfinite(other) && isfinite(here) && !(ratio >= out.ratio))
                out = (bk_filling){ratio, k};
        }
    }
    return out;
}
