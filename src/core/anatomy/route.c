/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/route.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "core/anatomy/stump.h"
#include "core/image/curve.h"

/* ---- a crossing vessel offers shortcuts, but only round a corner ---- */

#define SHARP 0.36   /* 1 - cos of about 50 degrees */
#define DETOURS_MAX 3

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

/* Paths with the vessel closed 3 mm before (side -1) or behind (+1) their corners, one after the other: two vessels that cross side
   by side offer the same corner twice. *best becomes the cheapest of them when one is cheaper. */
static bk_status detours(const bk_router *r, const bk_pt_px *sources, size_t sources_n, bk_pt_px target, const bk_path *first,
                         int side, bk_path *best, bk_err *err)
{
    const size_t n = (size_t)r->cost->rows * (size_t)r->cost->cols, off = (size_t)fmax(3 / r->mm_per_px, 4);
    float *keep = BK_NEW_RAW(r->arena, n, float, err);
    if (!keep)
        return err ? err->status : BK_E_LIMIT;
    memcpy(keep, r->cost->px, n * sizeof *keep);
    bk_path now = *first;
    bk_err blocked = {0};
    bk_status status = BK_OK;
    size_t corner;
    for (int i = 0; status == BK_OK && i < DETOURS_MAX && sharpest_turn(r, &now, &corner) >= SHARP; i++) {
        if (side < 0 ? corner < off : corner + off >= now.n) /* would close the click itself */
            break;
        block_disc(r, now.points[side < 0 ? corner - off : corner + off], 1.2 / r->mm_per_px);
        status = bk_path_trace(r->cost, sources, sources_n, target, r->arena, &now, &blocked);
        if (status == BK_OK && path_score(r, &now) < path_score(r, best))
            *best = now;
    }
    memcpy(r->cost->px, keep, n * sizeof *keep);
    return status == BK_OK || status == BK_E_NOTHING ? BK_OK : bk_fail(err, status, "%s", blocked.message);
}

/* Cheapest path; where it turns a sharp corner, detours are weighed against it. */
static bk_status find_path(const bk_router *r, const bk_pt_px *sources, size_t sources_n, bk_pt_px target, bk_path *out,
                           bk_err *err)
{
    size_t corner;
    bk_status status = bk_path_trace(r->cost, sources, sources_n, target, r->arena, out, err);
    if (status != BK_OK || sharpest_turn(r, out, &corner) < SHARP)
        return status;
    const bk_path first = *out;
    for (int side = -1; status == BK_OK && side <= 1; side += 2)
        status = detours(r, sources, sources_n, target, &first, side, out, err);
    return status;
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

/* ---- a side branch ends at the main vessel; a vessel that crosses it goes on ---- */

#define CLEAR_OF_MAIN_MM 2.5 /* from the main path: outside its lumen */
#define BEYOND_MM 3.0        /* stretch that is looked at on either side */
#define BEYOND_REACH_MM 9.0  /* how far beyond the main vessel such a stretch may end */
#define ASIDE_MM 1.0         /* by which a crossing vessel may bend aside */
#define AS_DARK 0.75         /* part of the side's darkness that makes it one vessel */
#define DEARER 1.5           /* by which another way may be dearer and still be taken */
#define CROSSINGS_MAX 3

static double to_path(const bk_path *path, bk_pt_px p)
{
    double least = INFINITY;
    for (size_t i = 0; i < path->n; i++)
        least = fmin(least, bk_px_distance(path->points[i], p));
    return least;
}

/* How dark a place is, 0..1, the darkest within aside_px along (-uy, ux): what the costs were made from. */
static double darkness(const bk_router *r, double x, double y, double ux, double uy, double aside_px)
{
    double most = 0;
    for (double a = -aside_px; a <= aside_px; a++) {
        const long col = lround(x - a * uy), row = lround(y + a * ux);
        if (col >= 0 && row >= 0 && col < r->cost->cols && row < r->cost->rows)
            most = fmax(most, 1 / (double)r->cost->px[(size_t)row * (size_t)r->cost->cols + (size_t)col]);
    }
    return sqrt(most);
}

/* Does the line that a path comes in on go on, as dark, beyond the main vessel? *clear: the path's first point clear of
   the main vessel. */
static bool crosses(const bk_router *r, const bk_path *main_path, const bk_path *path, size_t *clear)
{
    const double mm = r->mm_per_px, away = CLEAR_OF_MAIN_MM / mm;
    const size_t stretch = (size_t)(BEYOND_MM / mm);
    for (*clear = 0; *clear < path->n && to_path(main_path, path->points[*clear]) < away;)
        ++*clear;
    if (*clear + stretch >= path->n)
        return false;
    const bk_pt_px a = path->points[*clear], b = path->points[*clear + stretch];
    const double length = bk_px_distance(a, b), ux = (a.x - b.x) / length, uy = (a.y - b.y) / length;
    double begin = away; /* along the line, where it is clear of the main vessel on the other side */
    while (begin < BEYOND_REACH_MM / mm && to_path(main_path, (bk_pt_px){a.x + begin * ux, a.y + begin * uy}) < away)
        begin++;
    double here = 0, beyond = 0;
    for (size_t k = 0; k < stretch; k++) {
        const bk_pt_px p = path->points[*clear + k];
        here += darkness(r, p.x, p.y, ux, uy, 0);
        beyond += darkness(r, a.x + (begin + (double)k) * ux, a.y + (begin + (double)k) * uy, ux, uy, ASIDE_MM / mm);
    }
    return begin < BEYOND_REACH_MM / mm && beyond >= AS_DARK * here;
}

/* Where the way found comes off a vessel that crosses, one that does not is looked for, with the crossing vessel closed
   beside the main one. */
static bk_status avoid_crossings(const bk_router *r, const bk_path *main_path, const bk_pt_px *sources, size_t sources_n,
                                 bk_pt_px target, bk_path *out, bk_err *err)
{
    const size_t n = (size_t)r->cost->rows * (size_t)r->cost->cols;
    size_t clear;
    if (!crosses(r, main_path, out, &clear))
        return BK_OK;
    float *keep = BK_NEW_RAW(r->arena, n, float, err);
    if (!keep)
        return err ? err->status : BK_E_LIMIT;
    memcpy(keep, r->cost->px, n * sizeof *keep);
    bk_path now = *out;
    bk_status status = BK_OK;
    for (int i = 0; status == BK_OK && i < CROSSINGS_MAX; i++) {
        bk_err blocked = {0};
        block_disc(r, now.points[clear], 0.8 * CLEAR_OF_MAIN_MM / r->mm_per_px);
        status = find_path(r, sources, sources_n, target, &now, &blocked);
        if (status == BK_OK && path_score(r, &now) > DEARER * path_score(r, out))
            break;
        if (status == BK_OK && !crosses(r, main_path, &now, &clear)) {
            *out = now;
            break;
        }
        if (status != BK_OK && status != BK_E_NOTHING)
            bk_fail(err, status, "%s", blocked.message);
    }
    memcpy(r->cost->px, keep, n * sizeof *keep);
    return status == BK_E_NOTHING ? BK_OK : status;
}

static bk_status lead_through_stump(const bk_router *r, const bk_path *main_path, size_t from, size_t to, bk_path *out,
                                    bk_err *err)
{
    size_t clear, corner;
    const bool off_crossing = crosses(r, main_path, out, &clear), straight = sharpest_turn(r, out, &corner) < SHARP;
    const bk_path part = {main_path->points + from, to - from, main_path->mean_cost}, without = *out;
    const bk_status status = bk_stump_lead(r, &part, off_crossing, out, err);
    /* a way that needs no corner is not given up for a stump round one: its gap may be a faint throat */
    if (status == BK_OK && straight && sharpest_turn(r, out, &corner) >= SHARP)
        *out = without;
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
    if (status == BK_OK && n == 1) /* who places way-points knows the way */
        status = avoid_crossings(r, main_path, main_path->points + from, to - from, stops[0], out, err);
    if (status == BK_OK && n == 1 && r->lead)
        status = lead_through_stump(r, main_path, from, to, out, err);
    if (status == BK_OK && n == 1)
        status = bk_stump_straighten(r, main_path, out, err);
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
