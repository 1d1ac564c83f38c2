/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/stump.h"

#include <math.h>

#include "base/order.h"
#include "core/image/curve.h"

#define DARK_PART 0.3      /* of the median strength along the main path: a pixel as strong lies on a vessel */
#define GAP_MM 2.5        /* as long as the shortest gap that is called an occlusion */
#define ISLAND_MM 2.0     /* darkness so short, between two gaps, is something that crosses */
#define WANDERS 1.12      /* a path over eight neighbours reads up to 1.08 times too long */
#define LUMEN_MM 1.5      /* beside the main path: its own lumen */
#define STUMP_MM 1.0      /* beyond that */
#define AIM_MM 2.5        /* stretch of a stump that tells where it points */
#define SAME_MM 2.0       /* a path that comes so near a stump's end goes through it */
#define TURN_WEIGHT 1.0   /* a gap at a right angle to the stump counts double */
#define NO_STUMP 5.0       /* by which a gap right off the main vessel counts longer: most occlusions leave a stump */
#define LEAST_COSINE 0.35 /* the click lies within 70 degrees of straight on */

/* The router and what counts as dark. */
typedef struct scene {
    const bk_router *r;
    double dark_cost;
} scene;

/* Costs are 1 / (0.01 + p^2) with p = v / (v + w) for a strength v: back to v / w, and there again with less of it. */
static bk_status look_along(const bk_router *r, const bk_path *main_path, scene *out, bk_err *err)
{
    double *cost = BK_NEW_RAW(r->arena, main_path->n, double, err);
    size_t n = 0;
    if (!cost)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < main_path->n; i++) {
        const bk_pt_px p = main_path->points[i];
        const double c = (double)bk_image_at(r->cost, (int32_t)lround(p.y), (int32_t)lround(p.x));
        if (isfinite(c)) /* closed pixels */
            cost[n++] = c;
    }
    const double p = sqrt(fmax(1 / fmax(bk_median(cost, n), 1) - 0.01, 1e-6));
    const double v = DARK_PART * p / (1 - p), part = v / (v + 1);
    *out = (scene){r, 1 / (0.01 + part * part)};
    return BK_OK;
}

static bool is_dark(const scene *s, int32_t x, int32_t y)
{
    return x >= 0 && y >= 0 && x < s->r->cost->cols && y < s->r->cost->rows &&
           (double)bk_image_at(s->r->cost, y, x) <= s->dark_cost;
}

static bool dark_at(const scene *s, bk_pt_px p)
{
    return is_dark(s, (int32_t)lround(p.x), (int32_t)lround(p.y));
}

/* The first stretch at or behind `from` that lies on no vessel for GAP_MM, islands counted in; false when there is none. */
static bool next_gap(const scene *s, const bk_path *path, size_t from, size_t *first, size_t *last)
{
    const size_t least = (size_t)(GAP_MM / s->r->mm_per_px), island = (size_t)(ISLAND_MM / s->r->mm_per_px);
    for (size_t i = from; i < path->n; i++) {
        if (dark_at(s, path->points[i]))
            continue;
        *first = *last = i;
        for (size_t k = i; k < path->n && k - *last <= island; k++)
            if (!dark_at(s, path->points[k]))
                *last = k;
        if (*last - *first + 1 >= least)
            return true;
        i = *last;
    }
    return false;
}

/* Points of a straight line about 1 px apart, its beginning left out; returns their number. */
static size_t put_line(bk_pt_px a, bk_pt_px b, bk_pt_px *out)
{
    const size_t n = (size_t)ceil(bk_px_distance(a, b));
    for (size_t i = 1; i <= n; i++) {
        const double t = (double)i / (double)n;
        out[i - 1] = (bk_pt_px){a.x + t * (b.x - a.x), a.y + t * (b.y - a.y)};
    }
    return n;
}

bk_status bk_stump_straighten(const bk_router *r, const bk_path *main_path, bk_path *path, bk_err *err)
{
    scene s;
    /* a straight line has a point a px, a path over diagonals fewer; one more for what each line rounds up */
    const size_t room = 2 * path->n + (size_t)ceil(bk_curve_length(path->points, path->n));
    bk_pt_px *points = BK_NEW_RAW(r->arena, room, bk_pt_px, err);
    size_t n = 0, from = 0, first, last;
    const bk_status status = look_along(r, main_path, &s, err);
    if (!points || status != BK_OK)
        return points ? status : err ? err->status : BK_E_LIMIT;
    while (next_gap(&s, path, from, &first, &last)) {
        const size_t begin = first > from ? first - 1 : first, end = last + 1 < path->n ? last + 1 : last;
        const double chord = bk_px_distance(path->points[begin], path->points[end]);
        for (; from <= begin; from++)
            points[n++] = path->points[from];
        if (bk_curve_length(path->points + begin, end - begin + 1) > WANDERS * chord) {
            n += put_line(path->points[begin], path->points[end], points + n);
            from = end + 1;
        }
        for (; from <= end; from++)
            points[n++] = path->points[from];
    }
    for (; from < path->n; from++)
        points[n++] = path->points[from];
    path->points = points;
    path->n = n;
    return BK_OK;
}

/* ---- dead ends ---- */

typedef struct flood {
    const scene *s;
    int32_t *queue, *parent; /* pixel indices; parent -1: not reached, -2: the main vessel's own */
    uint16_t *depth;         /* steps from the main vessel's lumen */
    size_t queued;
} flood;

static void reach(flood *f, int32_t x, int32_t y, int32_t parent, uint16_t depth)
{
    const int32_t at = y * f->s->r->cost->cols + x;
    if (f->parent[at] != -1)
        return;
    f->parent[at] = parent;
    f->depth[at] = depth;
    f->queue[f->queued++] = at;
}

static void seed(flood *f, bk_pt_px p)
{
    const double radius = LUMEN_MM / f->s->r->mm_per_px;
    const int32_t reach_px = (int32_t)radius, cx = (int32_t)lround(p.x), cy = (int32_t)lround(p.y);
    for (int32_t y = cy - reach_px; y <= cy + reach_px; y++)
        for (int32_t x = cx - reach_px; x <= cx + reach_px; x++)
            if (x >= 0 && y >= 0 && x < f->s->r->cost->cols && y < f->s->r->cost->rows && hypot(x - cx, y - cy) <= radius)
                reach(f, x, y, -2, 0);
}

static bk_status run_flood(flood *f, const bk_path *main_path, bk_err *err)
{
    const size_t n = (size_t)f->s->r->cost->rows * (size_t)f->s->r->cost->cols;
    const int32_t cols = f->s->r->cost->cols;
    f->queue = BK_NEW_RAW(f->s->r->arena, n, int32_t, err);
    f->parent = BK_NEW_RAW(f->s->r->arena, n, int32_t, err);
    f->depth = BK_NEW_RAW(f->s->r->arena, n, uint16_t, err);
    if (!f->queue || !f->parent || !f->depth)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < n; i++)
        f->parent[i] = -1;
    for (size_t i = 0; i < main_path->n; i++)
        seed(f, main_path->points[i]);
    for (size_t k = 0; k < f->queued; k++) {
        const int32_t at = f->queue[k], x = at % cols, y = at / cols;
        for (int32_t dy = -1; dy <= 1; dy++)
            for (int32_t dx = -1; dx <= 1; dx++)
                if (f->depth[at] < UINT16_MAX && is_dark(f->s, x + dx, y + dy))
                    reach(f, x + dx, y + dy, at, (uint16_t)(f->depth[at] + 1));
    }
    return BK_OK;
}

/* The flood goes no farther from here. */
static bool is_end(const flood *f, int32_t at)
{
    const int32_t cols = f->s->r->cost->cols, x = at % cols, y = at / cols;
    if (x < 1 || y < 1 || x + 1 >= cols || y + 1 >= f->s->r->cost->rows)
        return false; /* the picture ends, not the vessel */
    for (int32_t dy = -1; dy <= 1; dy++)
        for (int32_t dx = -1; dx <= 1; dx++) {
            const int32_t beside = at + dy * cols + dx;
            if (f->parent[beside] != -1 && f->depth[beside] > f->depth[at])
                return false;
        }
    return true;
}

static bk_pt_px place_of(const flood *f, int32_t at)
{
    return (bk_pt_px){at % f->s->r->cost->cols, at / f->s->r->cost->cols};
}

/* Length of the gap from a stump's end to the click, made longer by the turn; infinite where it does not point there. */
static double price(const flood *f, int32_t at, bk_pt_px target)
{
    const size_t aim = (size_t)(AIM_MM / f->s->r->mm_per_px);
    int32_t back = at;
    for (size_t i = 0; i < aim && f->parent[back] >= 0; i++)
        back = f->parent[back];
    const bk_pt_px p = place_of(f, at), q = place_of(f, back);
    const double gap = bk_px_distance(p, target), length = bk_px_distance(p, q);
    if (length <= 0 || gap <= 0)
        return INFINITY;
    const double cosine = ((p.x - q.x) * (target.x - p.x) + (p.y - q.y) * (target.y - p.y)) / (length * gap);
    return cosine < LEAST_COSINE ? (double)INFINITY : gap * (1 + TURN_WEIGHT * (1 - cosine));
}

static bool goes_through(const bk_path *path, bk_pt_px p, double near_px)
{
    for (size_t i = 0; i < path->n; i++)
        if (bk_px_distance(path->points[i], p) <= near_px)
            return true;
    return false;
}

/* The main vessel to the stump's end over the cheapest way, then straight to the click. */
static bk_status lead_through(const bk_router *r, const bk_path *main_path, bk_pt_px end, bk_path *path, bk_err *err)
{
    const bk_pt_px target = path->points[path->n - 1];
    bk_path inner;
    const bk_status status = bk_path_trace(r->cost, main_path->points, main_path->n, end, r->arena, &inner, err);
    if (status != BK_OK)
        return status;
    const size_t room = inner.n + (size_t)ceil(bk_px_distance(end, target));
    bk_pt_px *points = BK_NEW_RAW(r->arena, room, bk_pt_px, err);
    if (!points)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < inner.n; i++)
        points[i] = inner.points[i];
    path->n = inner.n + put_line(end, target, points + inner.n);
    path->points = points;
    return BK_OK;
}

bk_status bk_stump_lead(const bk_router *r, const bk_path *main_path, bool crosses, bk_path *path, bk_err *err)
{
    scene s;
    flood f = {.s = &s};
    size_t first = 0, last = 0;
    bk_status status = look_along(r, main_path, &s, err);
    if (status != BK_OK || (!next_gap(&s, path, 0, &first, &last) && !crosses))
        return status;
    status = run_flood(&f, main_path, err);
    if (status != BK_OK)
        return status;
    const bk_pt_px target = path->points[path->n - 1];
    const double least = STUMP_MM / r->mm_per_px;
    double best = crosses ? (double)INFINITY : NO_STUMP * (double)(last - first + 1);
    int32_t stump = -1;
    for (size_t k = 0; k < f.queued; k++) {
        const int32_t at = f.queue[k];
        if (f.depth[at] < least || !is_end(&f, at))
            continue;
        const double dear = price(&f, at, target);
        if (dear < best) {
            best = dear;
            stump = at;
        }
    }
    if (stump < 0 || goes_through(path, place_of(&f, stump), SAME_MM / r->mm_per_px))
        return BK_OK;
    return lead_through(r, main_path, place_of(&f, stump), path, err);
}
