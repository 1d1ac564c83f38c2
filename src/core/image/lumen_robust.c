/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pixels that the model cannot explain: crossing vessels, a catheter, a wire, a rib's rim. Single outliers and small
   groups lose their weight. A dark band that is seen on both sides of the lumen goes over it as well, where its
   absorption would be read as lumen: those lumen pixels are left out, and the prior carries the diameter across. */
#include <math.h>
#include <string.h>

#include "core/image/lumen_internal.h"

#define CUT 5.0         /* single pixel: Tukey's biweight reaches 0 there */
#define DARK 3.5        /* 3 x 3 pixels, in SD of their sum */
#define BRIGHT 4.5
#define BIN_MM 0.25     /* along the limb */
#define NEAR_MM 0.3     /* beside the edge: where a band is looked for */
#define FAR_MM 1.4
#define BAND_SEED 5.0   /* SD of a bin's sum */
#define BAND_GROW 2.0
#define BAND_MAX_MM 4.0 /* longer ones run along the limb */
#define BANDS_MAX 16

typedef struct band {
    double low, high, x;
} band;

static void set_field(const bk_lumen_pixels *px, double unit, float *field)
{
    for (size_t k = 0; k < px->n; k++)
        field[px->at[k]] = (float)((double)px->rest[k] * unit);
}

static void clear_field(const bk_lumen_pixels *px, float *field)
{
    for (size_t k = 0; k < px->n; k++)
        field[px->at[k]] = 0.0F;
}

/* Sum over the 3 x 3 pixels in use around a place, in its SD. */
static double group(const float *field, ptrdiff_t at, ptrdiff_t cols)
{
    double sum = 0.0, n = 0.0;
    for (ptrdiff_t dy = -1; dy <= 1; dy++)
        for (ptrdiff_t dx = -1; dx <= 1; dx++) {
            const double z = (double)field[at + dy * cols + dx];
            sum += z;
            n += z != 0.0 ? 1.0 : 0.0;
        }
    return n > 0.0 ? sum / sqrt(n) : 0.0;
}

/* Dark runs of bins of one side. */
static size_t find_bands(const double *sum, const double *count, const double *x, size_t bins, double from, double bin,
                         double longest, band *out)
{
    size_t n = 0;
    for (size_t k = 0; k < bins && n < BANDS_MAX; k++) {
        if (count[k] < 2.0 || sum[k] / sqrt(count[k]) > -BAND_SEED)
            continue;
        size_t low = k, high = k;
        while (low > 0 && count[low - 1] > 0.0 && sum[low - 1] / sqrt(count[low - 1]) < -BAND_GROW)
            low--;
        while (high + 1 < bins && count[high + 1] > 0.0 && sum[high + 1] / sqrt(count[high + 1]) < -BAND_GROW)
            high++;
        double at = 0.0, all = 0.0;
        for (size_t i = low; i <= high; i++) {
            at += x[i];
            all += count[i];
        }
        if ((double)(high + 1 - low) * bin <= longest)
            out[n++] = (band){from + ((double)low - 0.5) * bin, from + ((double)high + 1.5) * bin, at / all};
        k = high;
    }
    return n;
}

/* Leave out the lumen between a band on the left and one on the right. */
static void cover(const bk_lumen_state *state, size_t limb, const band *left, const band *right)
{
    const bk_lumen_pixels *const px = &state->pixels[limb];
    for (size_t k = 0; k < px->n; k++) {
        const double share = ((double)px->x[k] - right->x) / (left->x - right->x), s = (double)px->s[k];
        if (share < 0.0 || share > 1.0)
            continue;
        if (s > right->low + share * (left->low - right->low) && s < right->high + share * (left->high - right->high))
            px->robust[k] = 0.0F;
    }
}

static void pair_bands(const bk_lumen_state *state, size_t limb, const band *left, size_t lefts, const band *right,
                       size_t rights)
{
    for (size_t i = 0; i < lefts; i++) {
        const band *best = NULL;
        double least = 1e30;
        for (size_t j = 0; j < rights; j++) {
            const double shift = fabs(left[i].low + left[i].high - right[j].low - right[j].high) * 0.5;
            if (shift < 1.5 * (left[i].x - right[j].x) && shift < least) {
                least = shift;
                best = &right[j];
            }
        }
        if (best != NULL)
            cover(state, limb, &left[i], best);
    }
}

static double radius_at(const bk_lumen_state *state, size_t limb, double s)
{
    double slope;
    const bk_lumen_layout *const layout = &state->layout[limb];
    return 0.5 * bk_lumen_bent(bk_lumen_spline_at(layout, state->unknown[limb], layout->diameter, layout->diameter_n,
                                                  1, s),
                               state->bend_px, &slope);
}

static void cover_bands(const bk_lumen_state *state, size_t limb, double unit, double mm_per_px, double *work)
{
    const bk_lumen_pixels *const px = &state->pixels[limb];
    const bk_lumen_layout *const layout = &state->layout[limb];
    const double bin = BIN_MM / mm_per_px, from = layout->start_px + layout->cell_px;
    const size_t bins = (size_t)(layout->cell_px * (double)(layout->cells - 2) / bin) + 1;
    double *const side[2] = {work, work + 3 * bins};
    memset(work, 0, 6 * bins * sizeof *work);
    for (size_t k = 0; k < px->n; k++) {
        const double s = (double)px->s[k], x = (double)px->x[k];
        const double c = bk_lumen_spline_at(layout, state->unknown[limb], layout->centre, layout->centre_n,
                                            BK_LUMEN_CENTRE_CELLS, s);
        const double beyond = (fabs(x - c) - radius_at(state, limb, s)) * mm_per_px;
        if (beyond < NEAR_MM || beyond > FAR_MM)
            continue;
        double *const to = side[x > c ? 0 : 1] + (size_t)fmax((s - from) / bin, 0.0);
        to[0] += (double)px->rest[k] * unit;
        to[bins] += 1.0;
        to[2 * bins] += x;
    }
    band found[2][BANDS_MAX];
    size_t n[2];
    for (size_t i = 0; i < 2; i++)
        n[i] = find_bands(side[i], side[i] + bins, side[i] + 2 * bins, bins, from, bin, BAND_MAX_MM / mm_per_px,
                          found[i]);
    pair_bands(state, limb, found[0], n[0], found[1], n[1]);
}

void bk_lumen_robust_weights(const bk_lumen_state *state, size_t limb, const bk_lumen_looks *looks, double *work,
                             float *field)
{
    const bk_lumen_pixels *const px = &state->pixels[limb];
    const double unit = 1.0 / sqrt(looks->gain), lump = 1.0 / sqrt(looks->inflation);
    set_field(px, unit, field);
    for (size_t k = 0; k < px->n; k++) {
        const double z = (double)px->rest[k] * unit / CUT, u = 1.0 - z * z;
        const double near = lump * group(field, (ptrdiff_t)px->at[k], looks->cols);
        const bool odd = near < -DARK || near > BRIGHT;
        px->robust[k] = u > 0.0 && !odd ? (float)(u * u) : 0.0F;
    }
    clear_field(px, field);
    cover_bands(state, limb, unit * lump, looks->mm_per_px, work);
}
