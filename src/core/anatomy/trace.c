/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/trace.h"

#include <math.h>
#include <string.h>

#include "base/order.h"
#include "core/anatomy/corrections.h"
#include "core/anatomy/route.h"
#include "core/anatomy/stump.h"
#include "core/image/ridge.h"

#define AXIS_STEP_PX 1.0
#define SNAP_PX 3
#define SPARSE 7 /* every seventh pixel tells what the surroundings answer */
#define COURSE_MM 1.0   /* from the course that is expected: where going on begins to be dear */
#define COURSE_MOST 4   /* by which a way far off it is dearer: a wrong expectation can be overruled */
#define PASS_MM 2.0 /* so near a click a path goes through it */

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

/* Off the expected course a way is dearer: where vessels lie over one another the path keeps to its own. */
static void keep_to(const bk_course *course, double mm_per_px, bk_image *cost)
{
    for (int32_t r = 0; r < cost->rows; r++)
        for (int32_t c = 0; c < cost->cols; c++) {
            const double off = bk_course_distance(course, (bk_pt_px){c, r}) * mm_per_px / COURSE_MM;
            cost->px[(size_t)r * (size_t)cost->cols + (size_t)c] *= (float)fmin(1 + off * off, COURSE_MOST);
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

/* Where the paths go through: the clicks moved onto the ridge beside them, way-points as
   they are (a person who places one means that place). */
typedef struct stops {
    bk_pt_px click[BK_LIMBS], via[BK_LIMBS][BK_VIA_MAX];
    size_t via_n[BK_LIMBS];
    bool on_vessel[BK_LIMBS]; /* of the clicks */
    double wanted;            /* ridge strength of the weakest click that lies on a vessel */
} stops;

static double strength_at(const bk_image *strength, bk_pt_px p)
{
    return (double)bk_image_at(strength, (int32_t)lround(p.y), (int32_t)lround(p.x));
}

static void find_stops(const bk_ridge *ridge, const bk_measure_input *input, double around, stops *out, bk_trace *trace)
{
    const bk_image *strength = &ridge->strength;
    out->wanted = INFINITY;
    for (int i = 0; i < BK_LIMBS; i++) {
        out->click[i] = snapped(strength, input->click[i]);
        const double here = strength_at(strength, out->click[i]);
        out->on_vessel[i] = here >= BK_TRACE_NO_LUMEN * around;
        if (out->on_vessel[i])
            out->wanted = fmin(out->wanted, here);
        out->via_n[i] = bk_corrections_via(input->corrections, i, out->via[i], BK_VIA_MAX);
        for (size_t k = 0; k < out->via_n[i]; k++) {
            bk_pt_px *p = &out->via[i][k];
            *p = (bk_pt_px){round(p->x), round(p->y)};
            trace->via_off[i] += strength_at(strength, snapped(strength, *p)) < BK_TRACE_NO_LUMEN * around;
        }
    }
    if (!isfinite(out->wanted))
        out->wanted = 0;
}

/* Two paths that part: from the proximal click along one daughter, and off it along the other. */
typedef struct fork {
    int straight, off; /* which daughter is which */
    bk_route along;
    bk_path side;
    size_t parting;
} fork;

static bk_status find_along(const bk_router *r, const stops *at, fork *out, bk_err *err)
{
    bk_pt_px stop[BK_ROUTE_STOPS_MAX];
    size_t n = 0;
    stop[n++] = at->click[BK_PROXIMAL];
    for (size_t k = at->via_n[BK_PROXIMAL]; k > 0; k--) /* they count from the branching outwards */
        stop[n++] = at->via[BK_PROXIMAL][k - 1];
    const size_t before = n;
    for (size_t k = 0; k < at->via_n[out->straight]; k++)
        stop[n++] = at->via[out->straight][k];
    stop[n++] = at->click[out->straight];
    return bk_route_main(r, stop, n, before, &out->along, err);
}

static bk_status find_off(const bk_router *r, const stops *at, fork *out, bk_err *err)
{
    bk_pt_px stop[BK_VIA_MAX + 1];
    size_t n = 0;
    for (size_t k = 0; k < at->via_n[out->off]; k++)
        stop[n++] = at->via[out->off][k];
    stop[n++] = at->click[out->off];
    /* the way to a click without a vessel tends to hug another one as far as it can */
    const double clear_mm = at->on_vessel[out->off] ? 4 : 7;
    return bk_route_side(r, &out->along, stop, n, clear_mm, &out->side, &out->parting, err);
}

static bool passes(const bk_path *path, bk_pt_px p, double near_px)
{
    for (size_t i = 0; i < path->n; i++)
        if (bk_px_distance(path->points[i], p) <= near_px)
            return true;
    return false;
}

/* Gaps beyond the parting; before it contrast came through, whatever the path shows. */
static bk_status straighten_daughter(const bk_router *r, fork *paths, bk_err *err)
{
    bk_path *along = &paths->along.path;
    bk_path beyond = {along->points + paths->parting, along->n - paths->parting, along->mean_cost};
    const bk_status status = bk_stump_straighten(r, along, &beyond, err);
    if (status != BK_OK)
        return status;
    bk_pt_px *const points = BK_NEW_RAW(r->arena, paths->parting + beyond.n, bk_pt_px, err);
    if (!points)
        return err ? err->status : BK_E_LIMIT;
    memcpy(points, along->points, paths->parting * sizeof *points);
    memcpy(points + paths->parting, beyond.points, beyond.n * sizeof *points);
    along->points = points;
    along->n = paths->parting + beyond.n;
    return BK_OK;
}

/* The main vessel leads and the side branch leaves it, unless the way to the distal click goes by the side branch's
   click, or the distal click alone lies on no vessel: then the distal limb may be occluded and is the one that leaves. */
static bk_status find_fork(const bk_router *r, const stops *at, fork *out, bk_err *err)
{
    *out = (fork){.straight = BK_DISTAL, .off = BK_SIDE};
    bk_status status = find_along(r, at, out, err);
    const bool lost = at->on_vessel[BK_SIDE] && !at->on_vessel[BK_DISTAL];
    if (status == BK_OK && (lost || passes(&out->along.path, at->click[BK_SIDE], PASS_MM / r->mm_per_px))) {
        *out = (fork){.straight = BK_SIDE, .off = BK_DISTAL};
        status = find_along(r, at, out, err);
    }
    if (status == BK_OK)
        status = find_off(r, at, out, err);
    const bool own_way = at->via_n[BK_PROXIMAL] == 0 && at->via_n[out->straight] == 0;
    return status == BK_OK && own_way ? straighten_daughter(r, out, err) : status;
}

static bk_status cut_limbs(const fork *paths, const bk_ridge *ridge, double mm_per_px, bk_arena *arena, bk_trace *out,
                           bk_err *err)
{
    const bk_path *along = &paths->along.path, *path[BK_LIMBS] = {along, along, along};
    size_t from[BK_LIMBS] = {paths->parting, paths->parting, paths->parting}, to[BK_LIMBS] = {0, along->n - 1, along->n - 1};
    path[paths->off] = &paths->side;
    from[paths->off] = 0;
    to[paths->off] = paths->side.n - 1;
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

static bk_status follow_ridges(const bk_ridge *ridge, const bk_measure_input *input, bool lead, bk_arena *room,
                               bk_arena *arena, bk_trace *out, bk_err *err)
{
    bk_image cost;
    const int32_t rows = ridge->strength.rows, cols = ridge->strength.cols;
    double *scratch = BK_NEW(room, (size_t)rows * (size_t)cols / SPARSE + 1, double, err);
    stops *at = BK_NEW(room, 1, stops, err);
    if (!scratch || !at || bk_image_new_raw(rows, cols, room, &cost, err) != BK_OK)
        return err ? err->status : BK_E_LIMIT;
    const double around = surroundings(&ridge->strength, scratch);
    find_stops(ridge, input, around, at, out);
    costs_from(ridge, fmax(at->wanted, fmax(around, 1e-6)), &cost);
    if (input->course)
        keep_to(input->course, input->mm_per_px, &cost);
    const bk_router r = {&cost, input->mm_per_px, room, lead};
    fork paths;
    bk_status status = find_fork(&r, at, &paths, err);
    if (status == BK_OK)
        status = cut_limbs(&paths, ridge, input->mm_per_px, arena, out, err);
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++) {
        status = limb_strength(ridge, &out->limb[i], room, &out->contrast[i], err);
        out->contrast[i] /= fmax(around, 1e-9);
    }
    return status;
}

bk_status bk_trace_limbs(const bk_image *log_image, const bk_measure_input *input, bool lead, bk_arena *arena, bk_trace *out,
                         bk_err *err)
{
    double sigma_px[BK_RIDGE_SCALES_MAX];
    const int scales = scales_of(input->mm_per_px, sigma_px);
    bk_ridge ridge;
    bk_arena room = bk_arena_child(arena);
    bk_status status = bk_ridge_filter(log_image, sigma_px, scales, &room, &ridge, err);
    if (status == BK_OK)
        status = follow_ridges(&ridge, input, lead, &room, arena, out, err);
    bk_arena_child_end(&room, arena);
    return status;
}
