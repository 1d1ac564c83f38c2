/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/space/sight.h"

#include <math.h>

#define CORE_STEP_PX 1.0

static void fill_core(bk_pt_px from, bk_pt_px to, size_t n, bk_pt_px *out)
{
    for (size_t i = 0; i < n; i++) {
        const double share = (double)i / (double)n;
        out[i] = (bk_pt_px){from.x + share * (to.x - from.x), from.y + share * (to.y - from.y)};
    }
}

bk_status bk_sight_limb_new(bk_pt_px branch, const bk_sight_profile *p, bk_arena *arena, bk_sight_limb *out, bk_err *err)
{
    if (p->n < 2)
        return bk_fail(err, BK_E_DATA, "a profile of %zu samples was found, two or more were expected", p->n);
    const bk_pt_px ostium = {p->x_px[0], p->y_px[0]};
    const size_t core = (size_t)ceil(hypot(ostium.x - branch.x, ostium.y - branch.y) / CORE_STEP_PX) + 1, n = core + p->n;
    *out = (bk_sight_limb){.n = n, .first = core, .occluded = p->occluded, .mld_sd_px = p->mld_sd_mm / p->mm_per_px,
                           .reference_sd_px = p->reference_sd_mm / p->mm_per_px};
    double *const room = BK_NEW(arena, 4 * n, double, err);
    out->axis = BK_NEW(arena, n, bk_pt_px, err);
    if (room == NULL || out->axis == NULL)
        return BK_E_LIMIT;
    out->arc_px = room;
    out->diameter_px = room + n;
    out->sd_px = room + 2 * n;
    out->reference_px = room + 3 * n;
    fill_core(branch, ostium, core, out->axis);
    for (size_t i = 0; i < n; i++) {
        const size_t k = i > core ? i - core : 0;
        if (i >= core)
            out->axis[i] = (bk_pt_px){p->x_px[k], p->y_px[k]};
        out->diameter_px[i] = p->diameter_mm[k] / p->mm_per_px;
        out->sd_px[i] = p->sd_mm[k] / p->mm_per_px;
        out->reference_px[i] = p->reference_mm[k] / p->mm_per_px;
        out->arc_px[i] = i == 0 ? 0 : out->arc_px[i - 1] + hypot(out->axis[i].x - out->axis[i - 1].x, out->axis[i].y - out->axis[i - 1].y);
    }
    return BK_OK;
}

/* Last sample at or before an arc length, at most the last but one. */
static size_t sample_before(const bk_sight_limb *limb, double arc_px)
{
    size_t low = 0, high = limb->n - 1;
    while (high - low > 1) {
        const size_t middle = (low + high) / 2;
        if (limb->arc_px[middle] <= arc_px)
            low = middle;
        else
            high = middle;
    }
    return low;
}

static double share_of(const bk_sight_limb *limb, size_t k, double arc_px)
{
    const double step = limb->arc_px[k + 1] - limb->arc_px[k];
    return step > 0 ? fmin(fmax((arc_px - limb->arc_px[k]) / step, 0), 1) : 0;
}

double bk_sight_at(const bk_sight_limb *limb, const double *series, double arc_px)
{
    const size_t k = sample_before(limb, arc_px);
    const double share = share_of(limb, k, arc_px);
    return series[k] + share * (series[k + 1] - series[k]);
}

bk_pt_px bk_sight_point(const bk_sight_limb *limb, double arc_px, bk_pt_px *tangent)
{
    const size_t k = sample_before(limb, arc_px), before = k > 1 ? k - 2 : 0, after = k + 3 < limb->n ? k + 3 : limb->n - 1;
    const double share = share_of(limb, k, arc_px);
    const bk_pt_px *const p = limb->axis;
    const double dx = p[after].x - p[before].x, dy = p[after].y - p[before].y, length = hypot(dx, dy);
    *tangent = (bk_pt_px){length > 0 ? dx / length : 1, length > 0 ? dy / length : 0};
    return (bk_pt_px){p[k].x + share * (p[k + 1].x - p[k].x), p[k].y + share * (p[k + 1].y - p[k].y)};
}

double bk_sight_foot(const bk_sight_limb *limb, bk_pt_px q, double near_px, double reach_px)
{
    double best = near_px, least = INFINITY;
    for (size_t k = sample_before(limb, near_px - reach_px); k + 1 < limb->n && limb->arc_px[k] <= near_px + reach_px; k++) {
        const bk_pt_px a = limb->axis[k], b = limb->axis[k + 1];
        const double step = limb->arc_px[k + 1] - limb->arc_px[k];
        if (!(step > 0))
            continue;
        const double share = fmin(fmax(((q.x - a.x) * (b.x - a.x) + (q.y - a.y) * (b.y - a.y)) / (step * step), 0), 1);
        const double away = hypot(a.x + share * (b.x - a.x) - q.x, a.y + share * (b.y - a.y) - q.y);
        if (away < least) {
            least = away;
            best = limb->arc_px[k] + share * step;
        }
    }
    return best;
}
