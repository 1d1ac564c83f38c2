/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The cheapest contour along one side of a vessel. */
#include <math.h>

#include "base/order.h"
#include "core/image/edges_inside.h"
#include "core/image/wide.h"

#define SLOPE_MAX 3 /* samples an edge may move from line to line: a short tight lesion has steep shoulders */
#define SLOPE_COST 0.06
#define REGION_COST 0.4 /* per px of lumen that is as bright as the outside, or of outside that is as dark as the lumen */
#define BEYOND 3        /* cost of a place out of reach */
#define OUTSIDE_PX 1.0  /* beyond the usual edge of the limb, from where on it is outside */
#define OWN_SHARE 0.85  /* of a line in its scale, the rest is the limb's: the edges of a tight throat are flat, yet they are edges */

ptrdiff_t bk_edges_reach(const bk_edge_finder *f, size_t i)
{
    const double reach = (1.7 * f->radius_px[i] + 2.5) / f->lines.step_px;
    const ptrdiff_t most = (ptrdiff_t)f->lines.middle - 2;
    return reach > (double)most ? most : (ptrdiff_t)reach;
}

double bk_edges_steepest(const bk_edge_finder *f, size_t i)
{
    const float *line = f->rise + i * f->lines.middle;
    const ptrdiff_t reach = bk_edges_reach(f, i);
    float most = 0;
    for (ptrdiff_t k = 1; k < reach; k++)
        most = line[k] > most ? line[k] : most;
    return (double)most;
}

/* How bright a line is outside on the side that is looked at, and how dark inside. */
typedef struct tones {
    double *outside, *inside; /* n each */
    double depth;             /* usual difference of the limb; 0 when regions tell nothing */
} tones;

static const float *line_middle(const bk_edge_finder *f, size_t i)
{
    return f->lines.value + i * f->lines.m + f->lines.middle;
}

static double darkest_inside(const bk_edge_finder *f, size_t i)
{
    const float *middle = line_middle(f, i);
    const ptrdiff_t half = (ptrdiff_t)(0.5 * f->radius_px[i] / f->lines.step_px) + 1;
    float low = middle[0];
    for (ptrdiff_t k = -half; k <= half && half < (ptrdiff_t)f->lines.middle; k++)
        low = middle[k] < low ? middle[k] : low;
    return (double)low;
}

static bk_status find_tones(const bk_edge_finder *f, int side, double *scratch, bk_arena *arena, tones *out, bk_err *err)
{
    const size_t n = f->lines.n, m = f->lines.middle, from = f->options->outside_from;
    *out = (tones){NULL, NULL, 0};
    if (from >= n)
        return BK_OK;
    *out = (tones){BK_NEW(arena, n, double, err), BK_NEW(arena, n, double, err), 0};
    double *values = BK_NEW(arena, m, double, err);
    if (!out->outside || !out->inside || !values)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < n; i++)
        scratch[i] = f->radius_px[i];
    const size_t first = (size_t)((bk_median(scratch, n) + OUTSIDE_PX) / f->lines.step_px);
    if (first + 1 >= m)
        return BK_OK;
    for (size_t i = 0; i < n; i++) {
        const float *middle = line_middle(f, i);
        for (size_t k = first; k < m; k++)
            values[k - first] = (double)middle[side * (ptrdiff_t)k];
        out->outside[i] = bk_median(values, m - first);
        out->inside[i] = darkest_inside(f, i);
        scratch[i] = out->outside[i] - out->inside[i];
    }
    out->depth = fmax(bk_median(scratch + from, n - from), 0);
    /* what crosses the limb is darker than it, and says nothing of how dark a lumen is */
    for (size_t i = 0; i < n; i++)
        out->inside[i] = fmax(out->inside[i], out->outside[i] - out->depth);
    return BK_OK;
}

/* Cost of an edge at each sample of a line: how flat the rise is there and how far from the expected radius. */
BK_WIDE static void rise_costs(const bk_edge_finder *f, size_t i, double typical, float *cost)
{
    const ptrdiff_t reach = bk_edges_reach(f, i), m = (ptrdiff_t)f->lines.middle;
    const float *line = f->rise + i * f->lines.middle;
    const float per_scale = (float)(1 / ((1 - OWN_SHARE) * typical + OWN_SHARE * bk_edges_steepest(f, i)));
    const float radius = (float)f->radius_px[i], per_radius = 1 / (radius + 2);
    for (ptrdiff_t k = 0; k < m; k++) {
        const float steepness = line[k] * per_scale, away = ((float)k * (float)f->lines.step_px - radius) * per_radius;
        cost[k] = 0.2F * away * away - (steepness < 1.5F ? steepness : 1.5F);
    }
    for (ptrdiff_t k = reach; k < m; k++)
        cost[k] = BEYOND;
}

/* More cost for what lies within an edge and is brighter than half-way to the outside; the edge that takes in the dark
   part and nothing else is cheapest. */
static void add_region(const bk_edge_finder *f, const tones *t, size_t i, int side, float *cost)
{
    const float *middle = line_middle(f, i);
    const double depth = fmax(t->outside[i] - t->inside[i], 0), level = t->inside[i] + 0.5 * depth;
    const double per_depth = 1 / ((1 - OWN_SHARE) * t->depth + OWN_SHARE * depth);
    const ptrdiff_t reach = bk_edges_reach(f, i);
    double sum = 0;
    for (ptrdiff_t k = 0; k < reach; k++) {
        const double bright = ((double)middle[side * k] - level) * per_depth;
        sum += REGION_COST * f->lines.step_px * (bright > 0.5 ? 0.5 : bright < -0.5 ? -0.5 : bright);
        cost[k] += (float)sum;
    }
}

/* Cheapest way to each sample from the line before: best[k] = min over d of before[k + d] + SLOPE_COST |d|. */
BK_WIDE static void cheapest_moves(const float *before, size_t m, float *best, float *move)
{
    for (size_t k = 0; k < m; k++) {
        best[k] = before[k];
        move[k] = 0;
    }
    for (int d = 1; d <= SLOPE_MAX; d++)
        for (int sign = -1; sign <= 1; sign += 2) {
            const float extra = (float)SLOPE_COST * (float)d, way = (float)(sign * d);
            const float *from = before + sign * d;
            for (size_t k = 0; k < m; k++) {
                const float candidate = from[k] + extra;
                move[k] = candidate < best[k] ? way : move[k];
                best[k] = candidate < best[k] ? candidate : best[k];
            }
        }
}

/* The region pulls an edge inwards by part of a px: back to the steepest place within the blur. */
static void snap(const bk_edge_finder *f, ptrdiff_t *edge)
{
    const ptrdiff_t near = lround(f->psf_px / f->lines.step_px);
    for (size_t i = 0; i < f->lines.n; i++) {
        const float *line = f->rise + i * f->lines.middle;
        const ptrdiff_t at = edge[i];
        for (ptrdiff_t k = at > near + 2 ? at - near : 2; k <= at + near && k < bk_edges_reach(f, i); k++)
            if (line[k] > line[edge[i]])
                edge[i] = k;
    }
}

/* Offset of the middle of what is darker than half-way to the outside, within the expected lumen; px along the normal. */
static double dark_middle(const bk_edge_finder *f, const tones t[2], size_t i)
{
    const float *middle = line_middle(f, i);
    const ptrdiff_t half = (ptrdiff_t)fmin(f->radius_px[i] / f->lines.step_px + 1, (double)f->lines.middle - 1);
    const double inside = 0.5 * (t[0].inside[i] + t[1].inside[i]), level = 0.5 * (inside + 0.5 * (t[0].outside[i] + t[1].outside[i]));
    double sum = 0, total = 0;
    for (ptrdiff_t k = -half; k <= half; k++) {
        const double dark = fmax(level - (double)middle[k], 0);
        sum += dark * (double)k;
        total += dark;
    }
    return total > 0 ? sum / total * f->lines.step_px : 0;
}

bk_status bk_edges_dark_middle(const bk_edge_finder *f, double *scratch, bk_arena *arena, double *offset_px, bk_err *err)
{
    tones t[2];
    bk_status status = find_tones(f, 1, scratch, arena, &t[0], err);
    if (status == BK_OK)
        status = find_tones(f, -1, scratch, arena, &t[1], err);
    for (size_t i = 0; status == BK_OK && i < f->lines.n; i++)
        offset_px[i] = t[0].depth > 0 && t[1].depth > 0 && i >= f->options->outside_from ? dark_middle(f, t, i) : 0;
    return status;
}

bk_status bk_edges_trace(const bk_edge_finder *f, int side, double typical, double *scratch, bk_arena *arena, ptrdiff_t *edge,
                         bk_err *err)
{
    const size_t n = f->lines.n, m = f->lines.middle;
    tones t;
    float *room = BK_NEW(arena, 4 * m + 2 * SLOPE_MAX, float, err), *sum = room + SLOPE_MAX;
    int8_t *from = BK_NEW_RAW(arena, n * m, int8_t, err);
    if (!room || !from)
        return err ? err->status : BK_E_LIMIT;
    const bk_status status = find_tones(f, side, scratch, arena, &t, err);
    if (status != BK_OK)
        return status;
    float *best = sum + m + SLOPE_MAX, *move = best + m, *cost = move + m;
    for (size_t k = 0; k < m + 2 * SLOPE_MAX; k++)
        room[k] = 1e9F; /* beyond both ends */
    for (size_t i = 0; i < n; i++) {
        rise_costs(f, i, typical, cost);
        if (t.depth > 0 && i >= f->options->outside_from)
            add_region(f, &t, i, side, cost);
        if (i > 0)
            cheapest_moves(sum, m, best, move);
        for (size_t k = 1; k + 1 < m; k++) {
            sum[k] = (i > 0 ? best[k] : 0) + cost[k];
            from[i * m + k] = (int8_t)move[k];
        }
    }
    edge[n - 1] = 1;
    for (ptrdiff_t k = 1; k + 1 < (ptrdiff_t)m; k++)
        if (sum[k] < sum[edge[n - 1]])
            edge[n - 1] = k;
    for (size_t i = n - 1; i > 0; i--)
        edge[i - 1] = edge[i] + from[i * m + (size_t)edge[i]];
    if (t.depth > 0)
        snap(f, edge);
    return BK_OK;
}
