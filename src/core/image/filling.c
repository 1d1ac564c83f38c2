/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/filling.h"

#include <math.h>
#include <stdbool.h>

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

void bk_filling_areas(const bk_image *log_image, const bk_pt_px *axis, const bk_pt_px *normal, size_t n, double start_px,
                      double half_px, double bin_px, double area[BK_FILLING_BINS])
{
    double sum[BK_FILLING_BINS] = {0}, length[BK_FILLING_BINS] = {0}, s = start_px;
    for (size_t i = 1; i < n; i++) {
        const double step = bk_px_distance(axis[i - 1], axis[i]);
        s += step;
        if (s >= BK_FILLING_BINS * bin_px)
            break;
        const size_t bin = (size_t)(s / bin_px);
        sum[bin] += step * area_at(log_image, axis[i], normal[i], half_px);
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

/* A stretch of another frame: the least and the most within SHIFT, since along a vessel frames are laid side by side within a mm or
   two only, and at a lesion's shoulder that would look like a difference. NaN where it has none. */
typedef struct beside {
    double least, most;
} beside;

static beside laid_beside(const double area[BK_FILLING_BINS], size_t bin, size_t first_bin)
{
    const double there = smooth(area, bin, first_bin);
    beside out = {there, there};
    for (size_t b = bin > first_bin + SHIFT ? bin - SHIFT : first_bin; b <= bin + SHIFT && b < BK_FILLING_BINS; b++) {
        const double found = smooth(area, b, first_bin);
        out.least = found < out.least ? found : out.least;
        out.most = found > out.most ? found : out.most;
    }
    return out;
}

/* What is usual along the limb: median over the stretches of what the frames show, the best of them or the median. */
static double usual_area(const double (*area)[BK_FILLING_BINS], size_t frames, size_t first_bin, bool best)
{
    double found[BK_FILLING_BINS], of_frames[BK_FILLING_FRAMES];
    size_t n = 0;
    for (size_t b = first_bin; b < BK_FILLING_BINS; b++) {
        size_t seen = 0;
        for (size_t k = 0; k < frames; k++)
            if (isfinite(area[k][b]))
                of_frames[seen++] = area[k][b];
        bk_sort_doubles(of_frames, seen);
        if (seen > 0)
            found[n++] = of_frames[best ? seen - 1 : seen / 2];
    }
    return bk_median(found, n);
}

bk_filling bk_filling_compare(const double (*area)[BK_FILLING_BINS], size_t frames, size_t own, size_t first_bin)
{
    const double full = usual_area(area, frames, first_bin, true), usual = usual_area(area, frames, first_bin, false);
    bk_filling out = {NAN, own, NAN};
    for (size_t b = first_bin; usual > 0 && b < BK_FILLING_BINS; b++) {
        const double here = smooth(area[own], b, first_bin);
        double most = -INFINITY;
        for (size_t k = 0; k < frames && isfinite(here); k++) {
            const beside other = laid_beside(area[k], b, first_bin);
            if (k == own || !isfinite(other.least))
                continue;
            most = fmax(most, other.most);
            const double ratio = 1 - fmax(other.least - here, 0) / fmax(other.least, full);
            if (!(ratio >= out.ratio)) {
                out.ratio = ratio;
                out.best = k;
            }
        }
        const double excess = 1 + fmax(here - most, 0) / fmax(most, usual);
        if (isfinite(most) && !(excess <= out.excess))
            out.excess = excess;
    }
    return out;
}
