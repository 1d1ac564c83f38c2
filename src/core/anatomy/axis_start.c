/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/axis_start.h"

#include <math.h>
#include <string.h>

#include "base/order.h"

#define WINDOW_MM 10.0     /* stretch of axis that is continued */
#define LEAST_SAMPLES 6
#define ENTRY_MM 1.5       /* beyond the other lumens; nearer to them the fitted lumen reads low, as pixels are missing */
#define ALONE_SD_MM 0.02   /* of a fitted middle from the lumen's; measured on phantoms (docs/methods/bifurcation.md) */
#define OVERLAP_SD 0.2     /* growth of that SD with each mm inside another lumen */
#define LOST_PART 0.29     /* of the lumen lost: the middle is off by up to half of it, either way (SD of an even spread) */
#define FULL_PART 0.75     /* quantile of the limb's diameters that stands for its full lumen */
#define SHARED_MM 1.0      /* of axis that shares one error: the spline's knots */
#define BEND_PER_MM 0.02   /* usual curvature: radius of 50 mm, seldom under 20 mm */
#define TURN_PER_MM2 0.002 /* usual change of it: over 10 mm from straight to usual */

static bk_pt_px horner(const double *x, const double *y, int first, double t)
{
    bk_pt_px p = {0, 0};
    for (int i = BK_AXIS_TERMS - 1; i >= first; i--) {
        const double factor = first == 0 ? 1 : i;
        p.x = p.x * t + factor * x[i];
        p.y = p.y * t + factor * y[i];
    }
    return p;
}

bk_pt_px bk_axis_start_at(const bk_axis_start *s, double t)
{
    return horner(s->x, s->y, 0, t);
}

bk_pt_px bk_axis_start_slope(const bk_axis_start *s, double t)
{
    return horner(s->x, s->y, 1, t);
}

double bk_axis_start_variance(const bk_axis_start *s, double t)
{
    double power[BK_AXIS_TERMS] = {1}, v = 0;
    for (int i = 1; i < BK_AXIS_TERMS; i++)
        power[i] = power[i - 1] * t;
    for (int a = 0; a < BK_AXIS_TERMS; a++)
        for (int b = 0; b < BK_AXIS_TERMS; b++)
            v += power[a] * power[b] * s->covariance[a][b];
    return fmax(v, 0);
}

/* Gauss-Jordan without pivoting: m is symmetric and positive definite. */
static bool invert(double m[BK_AXIS_TERMS][BK_AXIS_TERMS], double out[BK_AXIS_TERMS][BK_AXIS_TERMS])
{
    memset(out, 0, sizeof(double[BK_AXIS_TERMS][BK_AXIS_TERMS]));
    for (int a = 0; a < BK_AXIS_TERMS; a++)
        out[a][a] = 1;
    for (int a = 0; a < BK_AXIS_TERMS; a++) {
        if (!(m[a][a] > 0))
            return false;
        const double pivot = 1 / m[a][a];
        for (int b = 0; b < BK_AXIS_TERMS; b++) {
            m[a][b] *= pivot;
            out[a][b] *= pivot;
        }
        for (int r = 0; r < BK_AXIS_TERMS; r++) {
            const double f = m[r][a];
            for (int b = 0; r != a && b < BK_AXIS_TERMS; b++) {
                m[r][b] -= f * m[a][b];
                out[r][b] -= f * out[a][b];
            }
        }
    }
    return true;
}

/* What the limb measures where nothing narrows it. */
static double full_diameter(const bk_lumen_limb *limb, size_t from, bk_arena *arena, bk_err *err)
{
    const size_t n = limb->n - from;
    double *sorted = BK_NEW_RAW(arena, n, double, err);
    if (!sorted)
        return NAN;
    memcpy(sorted, limb->diameter_px + from, n * sizeof *sorted);
    return bk_select(sorted, n, (size_t)(FULL_PART * (double)(n - 1)));
}

double bk_axis_start_diameter(const bk_lumen_limb *limb, size_t alone, double mm_per_px)
{
    const size_t from = alone < limb->n ? alone : limb->n - 1;
    const size_t to = from + (size_t)(ENTRY_MM / mm_per_px / limb->step_px);
    double widest = limb->diameter_px[from];
    for (size_t i = from; i < limb->n && i <= to; i++)
        widest = fmax(widest, limb->diameter_px[i]);
    return widest;
}

bk_status bk_axis_start_fit(const bk_lumen_limb *limb, size_t alone, double mm_per_px, bk_arena *arena,
                            bk_axis_start *out, bk_err *err)
{
    double m[BK_AXIS_TERMS][BK_AXIS_TERMS] = {{0}}, rx[BK_AXIS_TERMS] = {0}, ry[BK_AXIS_TERMS] = {0};
    if (limb->n < alone + LEAST_SAMPLES)
        return bk_fail(err, BK_E_NOTHING, "a limb of %zu samples is too short to be continued to the branch point",
                       limb->n > alone ? limb->n - alone : 0);
    const double full_px = full_diameter(limb, alone, arena, err);
    if (isnan(full_px))
        return err ? err->status : BK_E_LIMIT;
    const double share = limb->step_px * mm_per_px / SHARED_MM;
    for (size_t i = 0; i < limb->n; i++) {
        const double t = ((double)i - (double)alone) * limb->step_px;
        if (t * mm_per_px > WINDOW_MM)
            break;
        const double lost_mm = fmax(full_px - limb->diameter_px[i], 0) * mm_per_px, inside_mm = fmax(-t, 0) * mm_per_px;
        const double sd = hypot(ALONE_SD_MM, hypot(LOST_PART * lost_mm, OVERLAP_SD * inside_mm)) / mm_per_px;
        const double weight = share / (sd * sd), power[BK_AXIS_TERMS] = {1, t, t * t, t * t * t};
        for (int a = 0; a < BK_AXIS_TERMS; a++) {
            for (int b = 0; b < BK_AXIS_TERMS; b++)
                m[a][b] += weight * power[a] * power[b];
            rx[a] += weight * power[a] * limb->axis[i].x;
            ry[a] += weight * power[a] * limb->axis[i].y;
        }
    }
    m[2][2] += pow(BEND_PER_MM * mm_per_px / 2, -2); /* the coefficients are derivatives over 2! and 3! */
    m[3][3] += pow(TURN_PER_MM2 * mm_per_px * mm_per_px / 6, -2);
    memset(out, 0, sizeof *out);
    if (!invert(m, out->covariance))
        return bk_fail(err, BK_E_NOTHING, "an axis without extent was found where a limb begins");
    for (int a = 0; a < BK_AXIS_TERMS; a++)
        for (int b = 0; b < BK_AXIS_TERMS; b++) {
            out->x[a] += out->covariance[a][b] * rx[b];
            out->y[a] += out->covariance[a][b] * ry[b];
        }
    return BK_OK;
}
