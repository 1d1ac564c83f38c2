/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A smooth axis: cubic B-spline through a noisy polyline by penalised least squares, walked by its arc length. */
#include <math.h>
#include <string.h>

#include "core/image/lumen_internal.h"

#define BEND_PENALTY 0.05 /* of squared second differences of coefficients, against one sample per px */
#define BAND 3

void bk_lumen_bspline(double t, double value[4])
{
    const double u = 1.0 - t, t2 = t * t, t3 = t2 * t;
    value[0] = u * u * u / 6.0;
    value[1] = (3.0 * t3 - 6.0 * t2 + 4.0) / 6.0;
    value[2] = (-3.0 * t3 + 3.0 * t2 + 3.0 * t + 1.0) / 6.0;
    value[3] = t3 / 6.0;
}

double bk_lumen_series_at(const double *series, size_t n, double s_px)
{
    const double at = s_px / BK_LUMEN_AXIS_STEP_PX;
    if (!(at > 0.0))
        return series[0];
    const size_t k = (size_t)at;
    if (k + 1 >= n)
        return series[n - 1];
    return series[k] + (at - (double)k) * (series[k + 1] - series[k]);
}

/* Length along the polyline up to each point. */
static double chain(const bk_pt_px *point, size_t n, double *s)
{
    s[0] = 0.0;
    for (size_t k = 1; k < n; k++)
        s[k] = s[k - 1] + hypot(point[k].x - point[k - 1].x, point[k].y - point[k - 1].y);
    return s[n - 1];
}

static void place(double s, double knot, size_t cells, size_t *first, double value[4])
{
    double at = s / knot;
    *first = at > 0.0 ? (size_t)at : 0;
    *first = *first < cells ? *first : cells - 1;
    bk_lumen_bspline(at - (double)*first, value);
}

/* Coefficients (x and y side by side) of the spline of `cells` cells. band: coefficients x (BAND + 1). */
static bool fit_curve(const bk_pt_px *point, const double *weight, const double *s, size_t n, double knot, size_t cells,
                      double *band, double *both)
{
    const size_t m = cells + 3;
    for (size_t k = 0; k < n; k++) {
        double v[4];
        size_t first;
        place(s[k], knot, cells, &first, v);
        const double share = weight[k] * (n > 1 ? s[n - 1] / (double)(n - 1) : 1.0);
        for (size_t i = 0; i < 4; i++) {
            both[2 * (first + i)] += share * v[i] * point[k].x;
            both[2 * (first + i) + 1] += share * v[i] * point[k].y;
            for (size_t j = 0; j <= i; j++)
                band[(first + i) * (BAND + 1) + (j + BAND - i)] += share * v[i] * v[j];
        }
    }
    static const double second[3] = {1.0, -2.0, 1.0};
    for (size_t k = 0; k + 2 < m; k++)
        for (size_t i = 0; i < 3; i++)
            for (size_t j = 0; j <= i; j++)
                band[(k + i) * (BAND + 1) + (j + BAND - i)] += BEND_PENALTY * second[i] * second[j];
    if (!bk_lumen_band_factor(band, m, BAND))
        return false;
    bk_lumen_band_forward(band, m, BAND, both, 2);
    bk_lumen_band_back(band, m, BAND, both, 2);
    return true;
}

/* Position, first and second derivative by the spline's own parameter. */
static void curve_at(const double *both, double s, double knot, size_t cells, double p[2], double d1[2], double d2[2])
{
    size_t first;
    double v[4];
    place(s, knot, cells, &first, v);
    const double t = s / knot - (double)first, u = 1.0 - t;
    const double w1[4] = {-0.5 * u * u, 1.5 * t * t - 2.0 * t, -1.5 * t * t + t + 0.5, 0.5 * t * t};
    const double w2[4] = {u, 3.0 * t - 2.0, 1.0 - 3.0 * t, t};
    for (size_t c = 0; c < 2; c++) {
        p[c] = d1[c] = d2[c] = 0.0;
        for (size_t i = 0; i < 4; i++) {
            const double q = both[2 * (first + i) + c];
            p[c] += v[i] * q;
            d1[c] += w1[i] * q / knot;
            d2[c] += w2[i] * q / (knot * knot);
        }
    }
}

/* Walk the curve in equal steps of arc length (midpoint rule). */
static void walk(const double *both, double length, double knot, size_t cells, bk_lumen_axis *out)
{
    const size_t room = out->n;
    double s = 0.0;
    for (size_t k = 0; k < room; k++) {
        double p[2], d1[2], d2[2];
        if (s > length + 0.25) {
            out->n = k;
            return;
        }
        curve_at(both, s, knot, cells, p, d1, d2);
        const double speed = hypot(d1[0], d1[1]);
        out->x[k] = p[0];
        out->y[k] = p[1];
        out->tx[k] = d1[0] / speed;
        out->ty[k] = d1[1] / speed;
        out->bend[k] = (d2[0] * d1[1] - d2[1] * d1[0]) / (speed * speed * speed);
        const double half = s + 0.5 * BK_LUMEN_AXIS_STEP_PX / speed;
        curve_at(both, half, knot, cells, p, d1, d2);
        s += BK_LUMEN_AXIS_STEP_PX / hypot(d1[0], d1[1]);
    }
}

bk_status bk_lumen_axis_smooth(const bk_pt_px *point, const double *weight, size_t n, double knot_px, bk_arena *arena, bk_lumen_axis *out,
                               bk_err *err)
{
    double *const s = BK_NEW(arena, n, double, err);
    if (s == NULL)
        return BK_E_LIMIT;
    const double length = chain(point, n, s);
    const size_t cells = (size_t)(length / knot_px) + 1;
    const double knot = length / (double)cells;
    out->n = (size_t)(1.1 * length / BK_LUMEN_AXIS_STEP_PX) + 4;
    double *const band = BK_NEW(arena, (cells + 3) * (BAND + 1), double, err);
    double *const both = BK_NEW(arena, (cells + 3) * 2, double, err);
    double *const room = BK_NEW(arena, 5 * out->n, double, err);
    if (band == NULL || both == NULL || room == NULL)
        return BK_E_LIMIT;
    if (!fit_curve(point, weight, s, n, knot, cells, band, both))
        return bk_fail(err, BK_E_INTERNAL, "the axis has no smooth curve through it");
    out->x = room;
    out->y = room + out->n;
    out->tx = room + 2 * out->n;
    out->ty = room + 3 * out->n;
    out->bend = room + 4 * out->n;
    walk(both, length, knot, cells, out);
    return BK_OK;
}
