/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/curve.h"

#include <math.h>

double bk_curve_length(const bk_pt_px *points, size_t n)
{
    double length = 0;
    for (size_t i = 1; i < n; i++)
        length += bk_px_distance(points[i - 1], points[i]);
    return length;
}

bk_status bk_curve_resample(const bk_pt_px *points, size_t n, double step_px, bk_arena *arena, bk_curve *out,
                            bk_err *err)
{
    const double length = bk_curve_length(points, n);
    if (!(length >= step_px))
        return bk_fail(err, BK_E_NOTHING, "a stretch of %.1f px was found, more than %.1f px was expected", length,
                       step_px);
    const size_t parts = (size_t)lround(length / step_px);
    *out = (bk_curve){BK_NEW(arena, parts + 1, bk_pt_px, err), parts + 1, length / (double)parts};
    if (!out->points)
        return err ? err->status : BK_E_LIMIT;
    size_t at = 0;
    double before = 0; /* arc length up to points[at] */
    double piece = bk_px_distance(points[0], points[1]);
    for (size_t i = 0; i < parts; i++) {
        const double s = (double)i * out->step_px;
        while (at + 2 < n && before + piece < s) {
            before += piece;
            at++;
            piece = bk_px_distance(points[at], points[at + 1]);
        }
        const double t = piece > 0 ? fmin((s - before) / piece, 1) : 0;
        out->points[i].x = points[at].x + t * (points[at + 1].x - points[at].x);
        out->points[i].y = points[at].y + t * (points[at + 1].y - points[at].y);
    }
    out->points[parts] = points[n - 1];
    return BK_OK;
}

/* Point i of the curve, continued beyond its ends by reflection in the end point. */
static bk_pt_px continued(const bk_curve *curve, ptrdiff_t i)
{
    const ptrdiff_t last = (ptrdiff_t)curve->n - 1;
    if (i >= 0 && i <= last)
        return curve->points[i];
    const ptrdiff_t end = i < 0 ? 0 : last;
    ptrdiff_t inside = 2 * end - i;
    inside = inside < 0 ? 0 : inside > last ? last : inside;
    const bk_pt_px e = curve->points[end], p = curve->points[inside];
    return (bk_pt_px){2 * e.x - p.x, 2 * e.y - p.y};
}

bk_status bk_curve_smooth(bk_curve *curve, double sigma_px, bk_arena *arena, bk_err *err)
{
    const double sigma = sigma_px / curve->step_px;
    const ptrdiff_t half = (ptrdiff_t)ceil(3 * sigma);
    bk_pt_px *smooth = BK_NEW(arena, curve->n, bk_pt_px, err);
    double *taps = BK_NEW(arena, half + 1, double, err);
    if (!smooth || !taps)
        return err ? err->status : BK_E_LIMIT;
    double sum = 0;
    for (ptrdiff_t k = 0; k <= half; k++) {
        taps[k] = exp(-0.5 * (double)(k * k) / (sigma * sigma));
        sum += k == 0 ? taps[k] : 2 * taps[k];
    }
    for (ptrdiff_t i = 0; i < (ptrdiff_t)curve->n; i++)
        for (ptrdiff_t k = -half; k <= half; k++) {
            const bk_pt_px p = continued(curve, i + k);
            const double w = taps[k < 0 ? -k : k] / sum;
            smooth[i].x += w * p.x;
            smooth[i].y += w * p.y;
        }
    curve->points = smooth;
    return BK_OK;
}

void bk_curve_normals(const bk_curve *curve, bk_pt_px *normals)
{
    for (size_t i = 0; i < curve->n; i++) {
        const bk_pt_px a = curve->points[i > 0 ? i - 1 : 0];
        const bk_pt_px b = curve->points[i + 1 < curve->n ? i + 1 : i];
        const double length = fmax(bk_px_distance(a, b), 1e-9);
        normals[i] = (bk_pt_px){(b.y - a.y) / length, -(b.x - a.x) / length};
    }
}

double bk_curve_distance(const bk_pt_px *points, size_t n, bk_pt_px p)
{
    double least = n > 0 ? bk_px_distance(points[0], p) : (double)INFINITY;
    for (size_t k = 1; k < n; k++) {
        const bk_pt_px a = points[k - 1], b = points[k];
        const double dx = b.x - a.x, dy = b.y - a.y, squared = dx * dx + dy * dy;
        const double t = squared > 0 ? fmin(fmax(((p.x - a.x) * dx + (p.y - a.y) * dy) / squared, 0), 1) : 0;
        least = fmin(least, hypot(a.x + t * dx - p.x, a.y + t * dy - p.y));
    }
    return least;
}
