/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/route.h"

#include <math.h>
#include <string.h>

#include "core/image/curve.h"

/* ---- a crossing vessel offers shortcuts, but only round a corner ---- */

/* Index of the sharpest turn between 3 mm before and 3 mm behind, and 1 - cos of it (0 straight, 1 a right angle). */
static double sharpest_turn(const bk_router *r, const bk_path *path, size_t *at)
{
    const size_t reach = (size_t)fmax(3 / r->mm_per_px, 4);
    double sharpest = 0;
    *at = path->n / 2;
    for (size_t i = reach / 2; i + reach / 2 < path->n; i++) { /* a corner may lie close to a click */
        const size_t before = i > reach ? i - reach : 0, behind = i + reach < path->n ? i + reach : path->n - 1;
        const bk_pt_px a = path->points[before], b = path->points[i], c = path->points[behind];
        const double la = bk_px_distance(a, b), lc = bk_px_distance(b, c);
        if (la <= 0 || lc <= 0)
            continue;
        const double turn = 1 - ((b.x - a.x) * (c.x - b.x) + (b.y - a.y) * (c.y - b.y)) / (la * lc);
        if (turn > sharpest) {
            sharpest = turn;
            *at = i;
        }
    }
    return sharpest;
}

/* Vessels bend, but an X-shaped crossing turns at once: a corner makes a path dearer. */
static double path_score(const bk_router *r, const bk_path *path)
{
    size_t at;
    const double turn = sharpest_turn(r, path, &at);
    return path->mean_cost * bk_curve_length(path->points, path->n) * (1 + turn);
}

static void block_disc(const bk_router *r, bk_pt_px centre, double radius_px)
{
    const int32_t reach = (int32_t)ceil(radius_px), cy = (int32_t)lround(centre.y), cx = (int32_t)lround(centre.x);
    for (int32_t y = cy - reach; y <= cy + reach; y++)
        for (int32_t x = cx - reach; x <= cx + reach; x++)
            if (y >= 0 && x >= 0 && y < r->cost->rows && x < r->cost->cols && hypot(x - cx, y - cy) <= radius_px)
                r->cost->px[(size_t)y * (size_t)r->cost->cols + (size_t)x] = INFINITY;
}

/* The same route with the vessel closed 3 mm before (side -1) or behind (+1) a corner. */
static bk_status detour(const bk_router *r, const bk_pt_px *sources, size_t sources_n, bk_pt_px target,
                        const bk_path *present, size_t corner, int side, bk_path *out, bk_err *err)
{
    const size_t n = (size_t)r->cost->rows * (size_t)r->cost->cols;
    const size_t off = (size_t)fmax(3 / r->mm_per_px, 4);
    float *keep = BK_NEW(r->arena, n, float, err);
    if (!keep)
        return err ? err->status : BK_E_LIMIT;
    memcpy(keep, r->cost->px, n * sizeof *keep);
    if (side < 0 ? corner < off : corner + off >= present->n) /* would close the click itself */
        return BK_E_NOTHING;
    block_disc(r, present->points[side < 0 ? corner - off : corner + off], 1.2 / r->mm_per_px);
    const bk_status status = bk_path_trace(r->cost, sources, sources_n, target, r->arena, out, err);
    memcpy(r->cost->px, keep, n * sizeof *keep);
    return status;
}

/* Cheapest path; where it turns a corner of more than about 50 degrees, detours are weighed against it. */
static bk_status find_path(const bk_router *r, const bk_pt_px *sources, size_t sources_n, bk_pt_px target, bk_path *out,
                           bk_err *err)
{
    size_t corner;
    const bk_status status = bk_path_trace(r->cost, sources, sources_n, target, r->arena, out, err);
    if (status != BK_OK || sharpest_turn(r, out, &corner) < 0.36)
        return status;
    const bk_path first = *out;
    for (int side = -1; side <= 1; side += 2) {
        bk_path other;
        bk_err blocked = {0};
        const bk_status tried = detour(r, sources, sources_n, target, &first, corner, side, &other, &blocked);
        if (tried != BK_OK && tried != BK_E_NOTHING)
            return bk_fail(err, tried, "%s", blocked.message);
        if (tried == BK_OK && path_score(r, &other) < path_score(r, out))
            *out = other;
    }
    return BK_OK;
}

/* ---- through way-points ---- */

static bk_status append(const bk_router *r, bk_path *path, const bk_path *leg, bk_err *err)
{
    bk_pt_px *points = BK_NEW(r->arena, path->n + leg->n - 1, bk_pt_px, err);
    if (!points)
        return err ? err->status : BK_E_LIMIT;
    memcpy(points, path->points, path->n * sizeof *points);
    memcpy(points + path->n, leg->points + 1, (leg->n - 1) * sizeof *points);
    path->points = points;
    path->n += leg->n - 1;
    return BK_OK;
}

bk_status bk_route_main(const bk_router *r, const bk_pt_px *stops, size_t n, size_t before, bk_route *out, bk_err *err)
{
    *out = (bk_route){{0}, 0, 0};
    bk_status status = find_path(r, stops, 1, stops[1], &out->path, err);
    for (size_t i = 1; status == BK_OK && i < n; i++) {
        bk_path leg;
        if (i == before)
            out->to = out->path.n - 1;
        if (i + 1 == before)
            out->from = out->path.n - 1;
        if (i + 1 == n)
            break;
        status = find_path(r, stops + i, 1, stops[i + 1], &leg, err);
        if (status == BK_OK)
            status = append(r, &out->path, &leg, err);
    }
    return status;
}

/* The side branch's path may leave the main vessel anywhere but close to its two clicks: the operator clicked
   beyond the bifurcation, and a vessel crossing near a click must not offer itself as a shortcut. */
bk_status bk_route_side(const bk_router *r, const bk_route *along, const bk_pt_px *stops, size_t n,
                        double clear_mm, bk_path *out, size_t *parting, bk_err *err)
{
    const bk_path *main_path = &along->path;
    const size_t clear = (size_t)fmin(clear_mm / r->mm_per_px, 0.2 * (double)main_path->n);
    for (size_t i = 0; i < main_path->n; i++)
        if (i < clear || i + clear >= main_path->n)
            block_disc(r, main_path->points[i], 1);
    const size_t from = along->from > clear ? along->from : clear, last = main_path->n - clear;
    const size_t to = along->to + 1 < last ? along->to + 1 : last;
    if (from >= to)
        return bk_fail(err, BK_E_NOTHING, "no place between the way-points was found where the side branch could leave");
    bk_status status = find_path(r, main_path->points + from, to - from, stops[0], out, err);
    if (status != BK_OK)
        return status;
    *parting = from;
    for (size_t i = from; i < to; i++)
        if (bk_px_distance(main_path->points[i], out->points[0]) < bk_px_distance(main_path->points[*parting], out->points[0]))
            *parting = i;
    for (size_t i = 1; status == BK_OK && i < n; i++) {
        bk_path leg;
        status = find_path(r, stops + i - 1, 1, stops[i], &leg, err);
        if (status == BK_OK)
            status = append(r, out, &leg, err);
    }
    return status;
}
