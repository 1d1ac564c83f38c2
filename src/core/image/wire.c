/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/wire.h"

#include <math.h>
#include <string.h>

#include "base/order.h"

#define REACH_MM 1.2
#define AREA_SD_MM2 0.2   /* of a lumen whose wire was taken out: twice the wire's own cross-section; from phantoms, docs/methods/edges.md */
#define LINE_STEP_PX 0.25
#define TEMPLATE_SDS 2.5  /* half width of the window that the profile is fitted in */
#define SLOPE_MAX 2       /* samples from line to line */
#define USUAL_MM 2.0      /* either side: the depth is the median over it */

/* What was found of a wire. */
typedef struct wire_line {
    bk_pt_px *points; /* n */
    double *depth;    /* n: log attenuation at its middle */
    size_t n;
} wire_line;

/* Weights whose sum with the samples of a window is the least-squares depth of a Gaussian line, a parabola aside. */
static void make_weights(double sigma, ptrdiff_t half, double *weight)
{
    double s0 = 0, s2 = 0, s4 = 0, g0 = 0, g2 = 0, norm = 0;
    for (ptrdiff_t k = -half; k <= half; k++) {
        const double x = (double)k * LINE_STEP_PX, g = exp(-0.5 * x * x / (sigma * sigma));
        s0 += 1;
        s2 += x * x;
        s4 += x * x * x * x;
        g0 += g;
        g2 += g * x * x;
    }
    const double det = s0 * s4 - s2 * s2, a = (s4 * g0 - s2 * g2) / det, c = (s0 * g2 - s2 * g0) / det;
    for (ptrdiff_t k = -half; k <= half; k++) {
        const double x = (double)k * LINE_STEP_PX;
        weight[k + half] = exp(-0.5 * x * x / (sigma * sigma)) - a - c * x * x;
        norm += weight[k + half] * weight[k + half];
    }
    for (ptrdiff_t k = 0; k <= 2 * half; k++)
        weight[k] /= -norm; /* dark counts */
}

typedef struct finder {
    const bk_image *image;
    const bk_curve *axis;
    bk_pt_px *normal;
    double sigma;       /* of the wire's blurred profile, px */
    ptrdiff_t half;     /* of the window, samples */
    size_t m;           /* places of the wire on a line; the middle one is the axis */
    float *depth;       /* n x m */
} finder;

static void find_depths(finder *f, const double *weight, float *line)
{
    const ptrdiff_t middle = (ptrdiff_t)(f->m / 2);
    const size_t samples = f->m + 2 * (size_t)f->half;
    for (size_t i = 0; i < f->axis->n; i++) {
        const bk_pt_px p = f->axis->points[i], normal = f->normal[i];
        for (size_t j = 0; j < samples; j++) {
            const double o = ((double)j - (double)(middle + f->half)) * LINE_STEP_PX;
            line[j] = bk_image_bilinear(f->image, (float)(p.x + o * normal.x), (float)(p.y + o * normal.y));
        }
        for (size_t k = 0; k < f->m; k++) {
            double sum = 0;
            for (ptrdiff_t j = 0; j <= 2 * f->half; j++)
                sum += weight[j] * (double)line[k + (size_t)j];
            f->depth[i * f->m + k] = (float)sum;
        }
    }
}

/* Average depths over neighbouring lines: noise falls, and a wire runs on. */
static void smooth_along(finder *f, float *copy)
{
    const ptrdiff_t reach = 3, n = (ptrdiff_t)f->axis->n;
    memcpy(copy, f->depth, f->axis->n * f->m * sizeof *copy);
    for (ptrdiff_t i = 0; i < n; i++)
        for (size_t k = 0; k < f->m; k++) {
            float sum = 0;
            for (ptrdiff_t d = -reach; d <= reach; d++)
                sum += copy[(size_t)(i + d < 0 ? 0 : i + d >= n ? n - 1 : i + d) * f->m + k];
            f->depth[(size_t)i * f->m + k] = sum / (float)(2 * reach + 1);
        }
}

/* The way along the limb with the greatest sum of depths. place: n */
static bk_status find_way(const finder *f, bk_arena *arena, size_t *place, bk_err *err)
{
    const size_t n = f->axis->n, m = f->m;
    float *sum = BK_NEW(arena, 2 * m, float, err), *before = sum + m;
    int8_t *from = BK_NEW_RAW(arena, n * m, int8_t, err);
    if (!sum || !from)
        return err ? err->status : BK_E_LIMIT;
    memcpy(before, f->depth, m * sizeof *before);
    for (size_t i = 1; i < n; i++) {
        for (ptrdiff_t k = 0; k < (ptrdiff_t)m; k++) {
            int8_t best = 0;
            for (ptrdiff_t d = -SLOPE_MAX; d <= SLOPE_MAX; d++)
                if (k + d >= 0 && k + d < (ptrdiff_t)m && before[k + d] > before[k + best])
                    best = (int8_t)d;
            sum[k] = before[k + best] + f->depth[i * m + (size_t)k];
            from[i * m + (size_t)k] = best;
        }
        memcpy(before, sum, m * sizeof *before);
    }
    place[n - 1] = 0;
    for (size_t k = 1; k < m; k++)
        if (before[k] > before[place[n - 1]])
            place[n - 1] = k;
    for (size_t i = n - 1; i > 0; i--)
        place[i - 1] = (size_t)((ptrdiff_t)place[i] + from[i * m + place[i]]);
    return BK_OK;
}

static bk_status usual_depths(const finder *f, const size_t *place, size_t reach, bk_arena *arena, double *depth, bk_err *err)
{
    double *scratch = BK_NEW(arena, 2 * reach + 1, double, err);
    if (!scratch)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < f->axis->n; i++) {
        size_t count = 0;
        for (size_t k = i > reach ? i - reach : 0; k <= i + reach && k < f->axis->n; k++)
            scratch[count++] = (double)f->depth[k * f->m + place[k]];
        depth[i] = fmax(bk_median(scratch, count), 0);
    }
    return BK_OK;
}

/* Brighten every pixel by the profile of the nearest point of the wire. */
static bk_status add_back(bk_image *image, const wire_line *wire, double sigma, bk_arena *arena, bk_err *err)
{
    const int32_t reach = (int32_t)ceil(3 * sigma);
    const size_t pixels = (size_t)image->rows * (size_t)image->cols;
    float *nearest = BK_NEW_RAW(arena, pixels, float, err), *depth = BK_NEW_RAW(arena, pixels, float, err);
    if (!nearest || !depth)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < pixels; i++)
        nearest[i] = INFINITY;
    for (size_t i = 0; i < wire->n; i++) {
        const bk_pt_px p = wire->points[i];
        for (int32_t r = (int32_t)p.y - reach; r <= (int32_t)p.y + reach + 1; r++)
            for (int32_t c = (int32_t)p.x - reach; c <= (int32_t)p.x + reach + 1; c++) {
                if (r < 0 || c < 0 || r >= image->rows || c >= image->cols)
                    continue;
                const double dx = c - p.x, dy = r - p.y, square = dx * dx + dy * dy;
                const size_t at = (size_t)r * (size_t)image->cols + (size_t)c;
                if (square < (double)nearest[at]) {
                    nearest[at] = (float)square;
                    depth[at] = (float)wire->depth[i];
                }
            }
    }
    for (size_t i = 0; i < pixels; i++)
        if (isfinite(nearest[i]))
            image->px[i] += depth[i] * expf(-0.5F * nearest[i] / (float)(sigma * sigma));
    return BK_OK;
}

static bk_status find_wire(finder *f, double mm_per_px, bk_arena *arena, wire_line *out, bk_err *err)
{
    const size_t n = f->axis->n, reach = (size_t)(REACH_MM / mm_per_px / LINE_STEP_PX);
    f->half = (ptrdiff_t)ceil(TEMPLATE_SDS * f->sigma / LINE_STEP_PX);
    f->m = 2 * reach + 1;
    f->normal = BK_NEW(arena, n, bk_pt_px, err);
    f->depth = BK_NEW_RAW(arena, n * f->m, float, err);
    double *weight = BK_NEW(arena, 2 * (size_t)f->half + 1, double, err);
    float *room = BK_NEW_RAW(arena, n * f->m + 2 * (size_t)f->half, float, err);
    size_t *place = BK_NEW(arena, n, size_t, err);
    *out = (wire_line){BK_NEW(arena, n, bk_pt_px, err), BK_NEW(arena, n, double, err), n};
    if (!f->normal || !f->depth || !weight || !room || !place || !out->points || !out->depth)
        return err ? err->status : BK_E_LIMIT;
    bk_curve_normals(f->axis, f->normal);
    make_weights(f->sigma, f->half, weight);
    find_depths(f, weight, room);
    smooth_along(f, room);
    bk_status status = find_way(f, arena, place, err);
    if (status == BK_OK)
        status = usual_depths(f, place, (size_t)(USUAL_MM / mm_per_px / f->axis->step_px) + 1, arena, out->depth, err);
    for (size_t i = 0; status == BK_OK && i < n; i++) {
        const double o = ((double)place[i] - (double)reach) * LINE_STEP_PX;
        out->points[i] = (bk_pt_px){f->axis->points[i].x + o * f->normal[i].x, f->axis->points[i].y + o * f->normal[i].y};
    }
    return status;
}

/* The diameter's SD by an area that is uncertain by AREA_SD_MM2, against the SD that is there. */
static double times_wider(const bk_lumen_limb *limb, size_t i, double wire_mm, double mm_per_px)
{
    const double d = fmax(limb->diameter_px[i] * mm_per_px, wire_mm), sd = fmax(limb->sd_px[i] * mm_per_px, 1e-6);
    const double by_wire = AREA_SD_MM2 / (0.5 * 3.14159265358979 * d);
    return hypot(1, by_wire / sd);
}

bk_status bk_wire_widen(bk_lumen_limb *limb, double wire_mm, double mm_per_px, bk_arena *arena, bk_err *err)
{
    const size_t m = limb->knots_n;
    double *knot = BK_NEW(arena, m, double, err), *weight = BK_NEW(arena, m, double, err);
    limb->misfit = BK_NEW(arena, limb->n, double, err);
    if (!knot || !weight || !limb->misfit)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < limb->n; i++)
        for (size_t k = 0; k < m; k++) {
            knot[k] += limb->basis[i * m + k] * times_wider(limb, i, wire_mm, mm_per_px);
            weight[k] += limb->basis[i * m + k];
        }
    for (size_t k = 0; k < m; k++)
        knot[k] = weight[k] > 0 ? knot[k] / weight[k] : 1;
    for (size_t j = 0; j < m; j++)
        for (size_t k = 0; k < m; k++)
            limb->covariance[j * m + k] *= knot[j] * knot[k];
    for (size_t i = 0; i < limb->n; i++) {
        for (size_t k = 0; k < m; k++)
            limb->misfit[i] += limb->basis[i * m + k] * knot[k];
        limb->sd_px[i] *= limb->misfit[i];
    }
    return BK_OK;
}

bk_status bk_wire_remove(bk_image *log_image, const bk_curve *axis, double wire_mm, double mm_per_px, double psf_sigma_px,
                         bk_arena *arena, bk_err *err)
{
    /* the chord of a round wire has a quarter of its diameter as SD */
    finder f = {.image = log_image, .axis = axis, .sigma = hypot(psf_sigma_px, 0.25 * wire_mm / mm_per_px)};
    wire_line found;
    bk_status status = find_wire(&f, mm_per_px, arena, &found, err);
    if (status == BK_OK)
        status = add_back(log_image, &found, f.sigma, arena, err);
    return status;
}
