/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pixels that the model cannot explain: crossing vessels, a catheter, a wire, a rib's rim. Single outliers and small
   dark groups lose their weight. A dark band that is seen on both sides of the lumen goes over it as well, where its
   absorption would be read as lumen: the lumen between is left out, and the prior carries the diameter across.
   Two rules find such bands: dark patches in one line (bands at a low angle), and dark stretches of the two edges
   that face each other (steep ones). Weights are even about 0 up to 3 SD, so that clean pixels do not bias. */
#include <math.h>
#include <string.h>

#include "base/order.h"
#include "core/image/lumen_internal.h"

#define HUBER 3.0 /* single pixels: full weight up to here, in SD */
#define CUT 5.0   /* dark ones: none from here. Bright ones keep HUBER / z: when a band pulls the background down,
                     what stands out bright is the true background */
#define DARK 3.5  /* 3 x 3 pixels, in SD of their sum */
#define APART 5   /* px between sums that share no noise */
#define MAD_TO_SD 1.482602218505602 /* of a normal distribution */
#define PATCHES_MAX 64
#define PATCH_MIN_PX 8
#define ROUND 2.5          /* ratio of axes below which a patch has no direction */
#define ALIGNED 0.94       /* cosine of 20 degrees */
#define JOIN_MAX_MM 12.0   /* between the ends of two patches in line */
#define MARGIN_PX 1.0

#define LESION_SHARE 0.75 /* of the median radius */
#define LOST_MM 0.6       /* how far beside its lumen a fit may be looking in a throat */

#define BIN_MM 0.25        /* along the limb */
#define NEAR_MM 0.2        /* beside the edge: where a band must show */
#define FAR_MM 1.2
#define STRETCH_MAX_MM 6.0 /* longer ones run along the limb */
#define STRETCHES_MAX 16

/* A connected group of dark pixels. */
typedef struct patch {
    double n, x, y, xx, xy, yy; /* centroid and covariance */
    double side;                  /* +1 left of the lumen, -1 right, 0 on it */
    double ux, uy, length, width; /* principal direction and half axes of a uniform ellipse's box */
} patch;

static void set_field(const bk_lumen_pixels *px, double unit, float *field)
{
    for (size_t k = 0; k < px->n; k++)
        if (px->at[k] >= 0)
            field[px->at[k]] = (float)((double)px->rest[k] * unit);
}

static void clear_field(const bk_lumen_pixels *px, float *field)
{
    for (size_t k = 0; k < px->n; k++)
        if (px->at[k] >= 0)
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

static void patch_axes(patch *p)
{
    p->side = fabs(p->side) > 0.5 * p->n ? p->side : 0.0;
    p->x /= p->n;
    p->y /= p->n;
    p->xx = p->xx / p->n - p->x * p->x;
    p->yy = p->yy / p->n - p->y * p->y;
    p->xy = p->xy / p->n - p->x * p->y;
    const double middle = 0.5 * (p->xx + p->yy), half = hypot(0.5 * (p->xx - p->yy), p->xy);
    const double angle = 0.5 * atan2(2.0 * p->xy, p->xx - p->yy);
    p->ux = cos(angle);
    p->uy = sin(angle);
    p->length = sqrt(3.0 * fmax(middle + half, 0.0)) + 0.5;
    p->width = sqrt(3.0 * fmax(middle - half, 0.0)) + 0.5;
}

/* Marks of dark pixels: on the lumen, left and right of it. */
enum { MARK_ON = 1, MARK_LEFT, MARK_RIGHT };

static double side_of(float mark)
{
    const int m = (int)fabsf(mark);
    return m == MARK_LEFT ? 1.0 : m == MARK_RIGHT ? -1.0 : 0.0;
}

/* Gather the marked pixels (above 0 in field) connected with a start; they turn negative. stack: room for all pixels. */
static void flood(int32_t start, int32_t cols, float *field, int32_t *stack, patch *out)
{
    size_t n = 0;
    memset(out, 0, sizeof *out);
    stack[n++] = start;
    field[start] = -field[start];
    while (n > 0) {
        const int32_t at = stack[--n];
        const double x = (double)(at % cols), y = (double)(at / cols);
        out->n += 1.0;
        out->side += side_of(field[at]);
        out->x += x;
        out->y += y;
        out->xx += x * x;
        out->xy += x * y;
        out->yy += y * y;
        for (int32_t dy = -1; dy <= 1; dy++)
            for (int32_t dx = -1; dx <= 1; dx++) {
                const int32_t next = at + dy * cols + dx;
                if (field[next] > 0.0F) {
                    field[next] = -field[next];
                    stack[n++] = next;
                }
            }
    }
}

/* Dark patches of a limb, largest kept when there are too many. */
static size_t find_patches(const bk_lumen_pixels *px, int32_t cols, float *field, int32_t *stack, patch *out)
{
    size_t n = 0;
    for (size_t k = 0; k < px->n; k++) {
        if (px->at[k] < 0 || field[px->at[k]] <= 0.0F)
            continue;
        patch p;
        flood(px->at[k], cols, field, stack, &p);
        if (p.n < PATCH_MIN_PX)
            continue;
        patch_axes(&p);
        size_t to = n;
        if (n == PATCHES_MAX) {
            to = 0;
            for (size_t i = 1; i < n; i++)
                to = out[i].n < out[to].n ? i : to;
            if (out[to].n > p.n)
                continue;
        } else {
            n++;
        }
        out[to] = p;
    }
    return n;
}

static bool points_along(const patch *p, double dx, double dy)
{
    return p->length < ROUND * p->width || fabs(p->ux * dx + p->uy * dy) > ALIGNED;
}

/* Half extent of a patch along a direction. */
static double extent(const patch *p, double dx, double dy)
{
    return sqrt(3.0 * fmax(dx * dx * p->xx + 2.0 * dx * dy * p->xy + dy * dy * p->yy, 0.0)) + 0.5;
}

/* Dark on its way over the lumen: on different sides of it. */
static bool opposite(const patch *a, const patch *b)
{
    return (a->side > 0.0 && b->side < 0.0) || (a->side < 0.0 && b->side > 0.0);
}

/* Leave out what lies between two patches that are in line. */
static void join(const bk_lumen_pixels *px, int32_t cols, const patch *a, const patch *b, double longest_px)
{
    const double dx = b->x - a->x, dy = b->y - a->y, apart = hypot(dx, dy);
    if (!(apart > 1.0) || !opposite(a, b))
        return;
    const double ux = dx / apart, uy = dy / apart;
    if (!points_along(a, ux, uy) || !points_along(b, ux, uy) ||
        apart - extent(a, ux, uy) - extent(b, ux, uy) > longest_px)
        return;
    const double wide_a = extent(a, -uy, ux) + MARGIN_PX, wide_b = extent(b, -uy, ux) + MARGIN_PX;
    for (size_t k = 0; k < px->n; k++) {
        const double x = (double)(px->at[k] % cols) - a->x, y = (double)(px->at[k] / cols) - a->y;
        const double along = (x * ux + y * uy) / apart;
        if (along > 0.0 && along < 1.0 && fabs(y * ux - x * uy) < wide_a + along * (wide_b - wide_a))
            px->robust[k] = 0.0F;
    }
}

/* A dark stretch of one edge. */
typedef struct stretch {
    double low, high, x;
} stretch;

static size_t find_stretches(const double *dark, const double *all, const double *x, size_t bins, double from,
                             double bin, double longest, stretch *out)
{
    size_t n = 0;
    for (size_t k = 0; k < bins && n < STRETCHES_MAX; k++) {
        const size_t low = k;
        double at = 0.0, count = 0.0;
        for (; k < bins && all[k] > 0.0 && dark[k] >= 0.5 * all[k]; k++) {
            at += x[k];
            count += all[k];
        }
        if (k - low >= 2 && (double)(k - low) * bin <= longest)
            out[n++] = (stretch){from + ((double)low - 0.5) * bin, from + ((double)k + 0.5) * bin, at / count};
    }
    return n;
}

/* Leave out the lumen between a stretch on the left and one on the right. */
static void cover(const bk_lumen_pixels *px, const stretch *left, const stretch *right)
{
    for (size_t k = 0; k < px->n; k++) {
        const double share = ((double)px->x[k] - right->x) / (left->x - right->x), s = (double)px->s[k];
        if (share < 0.0 || share > 1.0)
            continue;
        if (s > right->low + share * (left->low - right->low) && s < right->high + share * (left->high - right->high))
            px->robust[k] = 0.0F;
    }
}

static void pair_stretches(const bk_lumen_pixels *px, const stretch *left, size_t lefts, const stretch *right,
                           size_t rights)
{
    for (size_t i = 0; i < lefts; i++) {
        const stretch *best = NULL;
        double least = 1e30;
        for (size_t j = 0; j < rights; j++) {
            const double shift = fabs(left[i].low + left[i].high - right[j].low - right[j].high) * 0.5;
            if (shift < 1.5 * (left[i].x - right[j].x) && shift < least) {
                least = shift;
                best = &right[j];
            }
        }
        if (best != NULL)
            cover(px, &left[i], best);
    }
}

/* Where the lumen lies, in steps of BK_LUMEN_AXIS_STEP_PX from `from`. */
typedef struct outline {
    double from;
    size_t n;
    double *centre, *radius;
    double lesion_px; /* a smaller radius is that of a lesion */
} outline;

/* room: 3 values a step of the limb's length. */
static outline outline_of(const bk_lumen_state *state, size_t limb, double *room)
{
    const bk_lumen_layout *const layout = &state->layout[limb];
    const double *const u = state->unknown[limb], from = layout->start_px + layout->cell_px;
    const size_t n = (size_t)(layout->cell_px * (double)(layout->cells - 2) / BK_LUMEN_AXIS_STEP_PX) + 2;
    outline out = {from, n, room, room + n, 0.0};
    for (size_t k = 0; k < n; k++) {
        const double s = from + (double)k * BK_LUMEN_AXIS_STEP_PX;
        double slope;
        out.centre[k] = bk_lumen_spline_at(layout, u, layout->centre, layout->centre_n, BK_LUMEN_CENTRE_CELLS, s);
        out.radius[k] = 0.5 * bk_lumen_bent(bk_lumen_spline_at(layout, u, layout->diameter, layout->diameter_n, 1, s),
                                            state->bend_px, &slope);
    }
    memcpy(room + 2 * n, out.radius, n * sizeof *room);
    out.lesion_px = LESION_SHARE * bk_median(room + 2 * n, n);
    return out;
}

/* How far a pixel lies beyond the edge [px]; *left: on which side. */
static double beyond(const outline *o, double s, double x, bool *left)
{
    const double c = bk_lumen_series_at(o->centre, o->n, s - o->from);
    *left = x > c;
    return fabs(x - c) - bk_lumen_series_at(o->radius, o->n, s - o->from);
}

/* field: the marks of the pixels; work: 6 values a bin. */
static void cover_stretches(const outline *lumen, bk_lumen_pixels *px, const float *field, double mm_per_px, double *work)
{
    const double bin = BIN_MM / mm_per_px, from = lumen->from;
    const size_t bins = (size_t)((double)lumen->n * BK_LUMEN_AXIS_STEP_PX / bin) + 2;
    double *const side[2] = {work, work + 3 * bins};
    memset(work, 0, 6 * bins * sizeof *work);
    for (size_t k = 0; k < px->n; k++) {
        bool left;
        if (px->at[k] < 0)
            continue;
        const double s = (double)px->s[k], out_mm = beyond(lumen, s, (double)px->x[k], &left) * mm_per_px;
        if (out_mm < NEAR_MM || out_mm > FAR_MM)
            continue;
        double *const to = side[left ? 0 : 1] + (size_t)fmax((s - from) / bin, 0.0);
        to[0] += field[px->at[k]] != 0.0F ? 1.0 : 0.0;
        to[bins] += 1.0;
        to[2 * bins] += (double)px->x[k];
    }
    stretch found[2][STRETCHES_MAX];
    size_t n[2];
    for (size_t i = 0; i < 2; i++)
        n[i] = find_stretches(side[i], side[i] + bins, side[i] + 2 * bins, bins, from, bin, STRETCH_MAX_MM / mm_per_px,
                              found[i]);
    pair_stretches(px, found[0], n[0], found[1], n[1]);
}

/* In a lesion the fit may not have found the lumen yet: what is dark there, on it or close beside it, may be just that. */
static bool may_be_lumen(const outline *lumen, const bk_lumen_pixels *px, size_t k, double near_px)
{
    bool left;
    const double s = (double)px->s[k];
    return bk_lumen_series_at(lumen->radius, lumen->n, s - lumen->from) < lumen->lesion_px &&
           beyond(lumen, s, (double)px->x[k], &left) < near_px;
}

/* Sums of 3 x 3 pixels into px->robust, in their own SD: noise that neighbours share makes it larger than that of single
   pixels says. It is taken from the differences of sums APART px away, in which what the model misses more widely falls
   out. field: the rests; then the sums. */
static void weigh_groups(bk_lumen_pixels *px, int32_t cols, float *field, double *work)
{
    size_t n = 0;
    for (size_t k = 0; k < px->n; k++)
        px->robust[k] = px->at[k] < 0 ? 0.0F : (float)group(field, (ptrdiff_t)px->at[k], cols);
    for (size_t k = 0; k < px->n; k++)
        if (px->at[k] >= 0)
            field[px->at[k]] = px->robust[k];
    for (size_t k = 0; k < px->n; k++)
        if (px->at[k] >= 0 && field[px->at[k] + APART] != 0.0F)
            work[n++] = fabs((double)(px->robust[k] - field[px->at[k] + APART]));
    const float sd = n > 0 ? (float)fmax(MAD_TO_SD * sqrt(0.5) * bk_median(work, n), 1.0) : 1.0F;
    for (size_t k = 0; k < px->n; k++)
        px->robust[k] /= sd;
}

/* Weights of single pixels and of 3 x 3 groups; field then holds the marks of dark groups. Returns how many are dark. */
static size_t weigh_pixels(const outline *lumen, bk_lumen_pixels *px, const bk_lumen_looks *looks, double *work,
                           float *field)
{
    const double unit = 1.0 / sqrt(looks->gain);
    size_t found = 0;
    set_field(px, unit, field);
    weigh_groups(px, looks->cols, field, work);
    for (size_t k = 0; k < px->n; k++) {
        work[k] = 0.0;
        if (px->at[k] < 0) {
            px->robust[k] = 0.0F;
            continue;
        }
        const double z = (double)px->rest[k] * unit;
        const bool spared = may_be_lumen(lumen, px, k, LOST_MM / looks->mm_per_px);
        const bool dark = !spared && (double)px->robust[k] < -DARK;
        const double weight = fabs(z) < HUBER ? 1.0 : z > 0.0 || spared ? HUBER / fabs(z) : fmax(0.0, (CUT + z) / (CUT - HUBER));
        px->robust[k] = dark ? 0.0F : (float)weight;
        work[k] = dark ? 1.0 : 0.0;
        found += dark;
    }
    for (size_t k = 0; k < px->n; k++) {
        bool left = false;
        if (work[k] > 0.0 && beyond(lumen, (double)px->s[k], (double)px->x[k], &left) > 0.0)
            work[k] = left ? MARK_LEFT : MARK_RIGHT;
        if (px->at[k] >= 0)
            field[px->at[k]] = (float)work[k];
    }
    return found;
}

void bk_lumen_robust_weights(const bk_lumen_state *state, size_t limb, bk_lumen_pixels *px,
                             const bk_lumen_looks *looks, double *work, float *field)
{
    const outline lumen = outline_of(state, limb, work);
    work += 3 * lumen.n;
    if (weigh_pixels(&lumen, px, looks, work, field) > 0) {
        patch found[PATCHES_MAX];
        const size_t n = find_patches(px, looks->cols, field, (int32_t *)(void *)work, found);
        for (size_t i = 0; i < n; i++)
            for (size_t j = i + 1; j < n; j++)
                join(px, looks->cols, &found[i], &found[j], JOIN_MAX_MM / looks->mm_per_px);
        cover_stretches(&lumen, px, field, looks->mm_per_px, work);
    }
    clear_field(px, field);
}
