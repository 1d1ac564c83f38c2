/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/trace.h"

#include <math.h>
#include <string.h>

#include "base/order.h"
#include "core/image/path.h"
#include "core/image/ridge.h"

#define AXIS_STEP_PX 1.0
#define SNAP_PX 3
#define SPARSE 7 /* every seventh pixel tells what the surroundings answer */
#define NO_LUMEN_RATIO 2.0 /* a path this little above its surroundings follows no vessel */

/* Scales for lumens of 0.7 to 5.5 mm: a lumen of radius R answers most at 0.67 R. */
static int scales_of(double mm_per_px, double sigma_px[BK_RIDGE_SCALES_MAX])
{
    const double largest = fmin(0.67 * 2.75 / mm_per_px, 20);
    double sigma = fmax(0.67 * 0.35 / mm_per_px, 1.0);
    int n = 0;
    for (; sigma < largest * 1.2 && n < BK_RIDGE_SCALES_MAX; sigma *= sqrt(2))
        sigma_px[n++] = sigma;
    return n;
}

static bk_pt_px snapped(const bk_image *strength, bk_pt_px click)
{
    bk_pt_px best = {fmin(fmax(round(click.x), 1), strength->cols - 2), fmin(fmax(round(click.y), 1), strength->rows - 2)};
    double most = -1;
    for (int dy = -SNAP_PX; dy <= SNAP_PX; dy++)
        for (int dx = -SNAP_PX; dx <= SNAP_PX; dx++) {
            const int32_t r = (int32_t)lround(click.y) + dy, c = (int32_t)lround(click.x) + dx;
            if (r < 0 || c < 0 || r >= strength->rows || c >= strength->cols)
                continue;
            const double value = (double)bk_image_at(strength, r, c) * exp(-0.06 * (dx * dx + dy * dy));
            if (value > most) {
                most = value;
                best = (bk_pt_px){c, r};
            }
        }
    return best;
}

/* Median of a sparse sample of the strength: what the surroundings answer. */
static double surroundings(const bk_image *strength, double *scratch)
{
    const size_t n = (size_t)strength->rows * (size_t)strength->cols;
    size_t count = 0;
    for (size_t i = 0; i < n; i += SPARSE)
        if (strength->px[i] > 0)
            scratch[count++] = (double)strength->px[i];
    return bk_median(scratch, count);
}

/* Cheap on ridges as strong as the weakest click or stronger, dear elsewhere. */
static void costs_from(const bk_ridge *ridge, double wanted, bk_image *cost)
{
    const size_t n = (size_t)cost->rows * (size_t)cost->cols;
    for (size_t i = 0; i < n; i++) {
        const float v = ridge->strength.px[i], part = v / (v + (float)wanted);
        cost->px[i] = 1 / (0.01F + part * part);
    }
}

static bk_status make_limb(const bk_path *path, size_t from, size_t to, const bk_ridge *ridge, bk_arena *arena,
                           bk_curve *out, double **radius_px, bk_err *err)
{
    const size_t n = (from < to ? to - from : from - to) + 1;
    bk_pt_px *points = BK_NEW(arena, n, bk_pt_px, err);
    if (!points)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < n; i++)
        points[i] = path->points[from < to ? from + i : from - i];
    bk_curve pixels = {points, n, 1};
    bk_status status = bk_curve_smooth(&pixels, 2, arena, err);
    if (status == BK_OK)
        status = bk_curve_resample(pixels.points, n, AXIS_STEP_PX, arena, out, err);
    if (status != BK_OK)
        return status;
    *radius_px = BK_NEW(arena, out->n, double, err);
    if (!*radius_px)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < out->n; i++)
        (*radius_px)[i] = (double)bk_image_at(&ridge->sigma_px, (int32_t)lround(out->points[i].y),
                                              (int32_t)lround(out->points[i].x)) / 0.84;
    return BK_OK;
}

/* Running median over about 4 mm: the filter's best scale jumps, a vessel does not. */
static bk_status steady_radii(double *radius, size_t n, size_t half, bk_arena *arena, bk_err *err)
{
    double *copy = BK_NEW(arena, n, double, err), *near = BK_NEW(arena, 2 * half + 1, double, err);
    if (!copy || !near)
        return err ? err->status : BK_E_LIMIT;
    memcpy(copy, radius, n * sizeof *copy);
    for (size_t i = 0; i < n; i++) {
        const size_t from = i > half ? i - half : 0, to = i + half < n ? i + half : n - 1;
        memcpy(near, copy + from, (to - from + 1) * sizeof *near);
        radius[i] = bk_select(near, to - from + 1, (to - from) / 2);
    }
    return BK_OK;
}

/* Strength that three quarters of the limb's path exceed. */
static bk_status limb_strength(const bk_ridge *ridge, const bk_curve *limb, bk_arena *room, double *out, bk_err *err)
{
    double *scratch = BK_NEW(room, limb->n, double, err);
    if (!scratch)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < limb->n; i++)
        scratch[i] = (double)bk_image_at(&ridge->strength, (int32_t)lround(limb->points[i].y),
                                         (int32_t)lround(limb->points[i].x));
    *out = bk_select(scratch, limb->n, limb->n / 4);
    return BK_OK;
}

static bk_status cut_limbs(const bk_path *along, size_t parting, const bk_path *off, const bk_ridge *ridge,
                           double mm_per_px, bk_arena *arena, bk_trace *out, bk_err *err)
{
    const bk_path *path[BK_LIMBS] = {along, along, off};
    const size_t from[BK_LIMBS] = {parting, parting, 0}, to[BK_LIMBS] = {0, along->n - 1, off->n - 1};
    const size_t shortest = (size_t)fmax(3 / mm_per_px, 8);
    bk_status status = BK_OK;
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++) {
        const size_t length = from[i] < to[i] ? to[i] - from[i] : from[i] - to[i];
        if (length < shortest)
            return bk_fail(err, BK_E_NOTHING,
                           "the %s limb is %zu px long between the branching and its click, at least %zu px were expected",
                           bk_limb_name(i), length, shortest);
        status = make_limb(path[i], from[i], to[i], ridge, arena, &out->limb[i], &out->radius_px[i], err);
        if (status == BK_OK)
            status = steady_radii(out->radius_px[i], out->limb[i].n, (size_t)(2 / mm_per_px / AXIS_STEP_PX) + 1, arena,
                                  err);
    }
    return status;
}

/* ---- a crossing vessel offers shortcuts, but only round a corner ---- */

typedef struct router {
    bk_image *cost;
    double mm_per_px;
    bk_arena *arena;
} router;

/* Index of the sharpest turn between 3 mm before and 3 mm behind, and 1 - cos of it (0 straight, 1 a right angle). */
static double sharpest_turn(const router *r, const bk_path *path, size_t *at)
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
static double path_score(const router *r, const bk_path *path)
{
    size_t at;
    const double turn = sharpest_turn(r, path, &at);
    return path->mean_cost * bk_curve_length(path->points, path->n) * (1 + turn);
}

static void block_disc(const router *r, bk_pt_px centre, double radius_px)
{
    const int32_t reach = (int32_t)ceil(radius_px), cy = (int32_t)lround(centre.y), cx = (int32_t)lround(centre.x);
    for (int32_t y = cy - reach; y <= cy + reach; y++)
        for (int32_t x = cx - reach; x <= cx + reach; x++)
            if (y >= 0 && x >= 0 && y < r->cost->rows && x < r->cost->cols && hypot(x - cx, y - cy) <= radius_px)
                r->cost->px[(size_t)y * (size_t)r->cost->cols + (size_t)x] = INFINITY;
}

/* The same route with the vessel closed 3 mm before (side -1) or behind (+1) a corner. */
static bk_status detour(const router *r, const bk_pt_px *sources, size_t sources_n, bk_pt_px target,
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
static bk_status find_path(const router *r, const bk_pt_px *sources, size_t sources_n, bk_pt_px target, bk_path *out,
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

/* The side branch's path may leave the main vessel anywhere but close to its two clicks: the operator clicked
   beyond the bifurcation, and a vessel crossing near a click must not offer itself as a shortcut. */
static bk_status find_side_path(const router *r, const bk_path *along, bk_pt_px target, bk_path *off, size_t *parting,
                                bk_err *err)
{
    const size_t clear = (size_t)fmin(4 / r->mm_per_px, 0.2 * (double)along->n);
    for (size_t i = 0; i < along->n; i++)
        if (i < clear || i + clear >= along->n)
            block_disc(r, along->points[i], 1);
    const bk_status status = find_path(r, along->points + clear, along->n - 2 * clear, target, off, err);
    if (status != BK_OK)
        return status;
    *parting = clear;
    for (size_t i = clear; i + clear < along->n; i++)
        if (bk_px_distance(along->points[i], off->points[0]) < bk_px_distance(along->points[*parting], off->points[0]))
            *parting = i;
    return BK_OK;
}

static bk_status follow_ridges(const bk_ridge *ridge, const bk_measure_input *input, bk_arena *room,
                               bk_arena *arena, bk_trace *out, bk_err *err)
{
    bk_image cost;
    const int32_t rows = ridge->strength.rows, cols = ridge->strength.cols;
    double *scratch = BK_NEW(room, (size_t)rows * (size_t)cols / SPARSE + 1, double, err);
    if (!scratch || bk_image_new_raw(rows, cols, room, &cost, err) != BK_OK)
        return err ? err->status : BK_E_LIMIT;
    bk_pt_px click[BK_LIMBS];
    double wanted = INFINITY;
    for (int i = 0; i < BK_LIMBS; i++) {
        click[i] = snapped(&ridge->strength, input->click[i]);
        wanted = fmin(wanted, (double)bk_image_at(&ridge->strength, (int32_t)click[i].y, (int32_t)click[i].x));
    }
    const double around = surroundings(&ridge->strength, scratch);
    costs_from(ridge, fmax(wanted, fmax(around, 1e-6)), &cost);
    bk_path along, off;
    size_t parting = 0;
    const router r = {&cost, input->mm_per_px, room};
    bk_status status = find_path(&r, &click[BK_PROXIMAL], 1, click[BK_DISTAL], &along, err);
    if (status == BK_OK)
        status = find_side_path(&r, &along, click[BK_SIDE], &off, &parting, err);
    if (status == BK_OK)
        status = cut_limbs(&along, parting, &off, ridge, input->mm_per_px, arena, out, err);
    out->contrast = INFINITY;
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++) {
        double ratio = 0;
        status = limb_strength(ridge, &out->limb[i], room, &ratio, err);
        if (status != BK_OK)
            break;
        ratio /= fmax(around, 1e-9);
        out->contrast = fmin(out->contrast, ratio);
        if (ratio < NO_LUMEN_RATIO)
            status = bk_fail(err, BK_E_NOTHING,
                             "no lumen joins the clicks: the way to the %s click is hardly darker than its surroundings",
                             bk_limb_name(i));
    }
    return status;
}

bk_status bk_trace_limbs(const bk_image *log_image, const bk_measure_input *input, bk_arena *arena, bk_trace *out,
                         bk_err *err)
{
    double sigma_px[BK_RIDGE_SCALES_MAX];
    const int scales = scales_of(input->mm_per_px, sigma_px);
    bk_ridge ridge;
    bk_arena room = bk_arena_child(arena);
    bk_status status = bk_ridge_filter(log_image, sigma_px, scales, &room, &ridge, err);
    if (status == BK_OK)
        status = follow_ridges(&ridge, input, &room, arena, out, err);
    bk_arena_child_end(&room, arena);
    return status;
}
