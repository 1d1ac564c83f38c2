/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/edges.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/order.h"
#include "core/image/edges_inside.h"
#include "core/image/linear.h"
#include "core/image/wide.h"

#define LINE_STEP_PX 0.25 /* twice that when quick */
#define ACROSS_PX 0.5     /* SD of the smoothing of a line along itself, not when quick */
#define ROUNDS 3
#define ROUNDS_QUICK 2

BK_WIDE static void sample_lines(bk_edge_finder *f)
{
    for (size_t i = 0; i < f->lines.n; i++) {
        const bk_pt_px p = f->axis.points[i], normal = f->normal[i];
        float *line = f->lines.value + i * f->lines.m;
        for (size_t j = 0; j < f->lines.m; j++) {
            const double offset = ((double)j - (double)f->lines.middle) * f->lines.step_px;
            line[j] = bk_image_bilinear(f->image, (float)(p.x + offset * normal.x), (float)(p.y + offset * normal.y));
        }
    }
}

BK_WIDE static void add_line(float *to, const float *from, float weight, size_t m)
{
    for (size_t j = 0; j < m; j++)
        to[j] += weight * from[j];
}

/* Average neighbouring lines: noise falls, and an edge changes little over a quarter of a mm. */
static bk_status smooth_lines(bk_edge_finder *f, bk_arena *arena, bk_err *err)
{
    const double sigma = BK_EDGE_SMOOTH_MM / f->options->mm_per_px / f->axis.step_px;
    const ptrdiff_t half = (ptrdiff_t)ceil(2.5 * sigma), n = (ptrdiff_t)f->lines.n;
    const size_t m = f->lines.m;
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    float *copy = BK_NEW_RAW(arena, f->lines.n * m, float, err), *weight = BK_NEW(arena, half + 1, float, err);
    if (!copy || !weight)
        return err ? err->status : BK_E_LIMIT;
    memcpy(copy, f->lines.value, f->lines.n * m * sizeof *copy);
    for (ptrdiff_t k = 0; k <= half; k++)
        weight[k] = (float)exp(-0.5 * (double)(k * k) / (sigma * sigma));
    for (ptrdiff_t i = 0; i < n; i++) {
        float *to = f->lines.value + (size_t)i * m, total = 0;
        const ptrdiff_t first = i > half ? i - half : 0, last = i + half < n ? i + half : n - 1;
        for (ptrdiff_t k = first; k <= last; k++)
            total += weight[k < i ? i - k : k - i];
        memset(to, 0, m * sizeof *to);
        for (ptrdiff_t k = first; k <= last; k++) {
            const float *from = copy + (size_t)k * m, w = weight[k < i ? i - k : k - i] / total;
            add_line(to, from, w, m);
        }
    }
    bk_arena_rewind(arena, mark);
    return BK_OK;
}

/* Smooth every line along itself: slopes of pixels joined by straight lines jump at the pixels, and edges of a vessel that runs
   along rows or columns would lock onto them, by up to half a pixel of width. */
BK_WIDE static void smooth_across(float *line, float *copy, const float *weight, ptrdiff_t half, size_t m)
{
    memcpy(copy + half, line, m * sizeof *copy);
    for (ptrdiff_t k = 0; k < half; k++) {
        copy[k] = line[0];
        copy[half + (ptrdiff_t)m + k] = line[m - 1];
    }
    memset(line, 0, m * sizeof *line);
    for (ptrdiff_t k = 0; k <= 2 * half; k++)
        add_line(line, copy + k, weight[k], m);
}

static bk_status smooth_all_across(bk_edge_finder *f, bk_arena *arena, bk_err *err)
{
    const double sigma = ACROSS_PX / f->lines.step_px;
    const ptrdiff_t half = (ptrdiff_t)ceil(3 * sigma);
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    float *weight = BK_NEW(arena, 2 * half + 1, float, err), *copy = BK_NEW(arena, f->lines.m + 2 * (size_t)half, float, err), total = 0;
    if (!weight || !copy)
        return err ? err->status : BK_E_LIMIT;
    for (ptrdiff_t k = -half; k <= half; k++)
        total += weight[k + half] = (float)exp(-0.5 * (double)(k * k) / (sigma * sigma));
    for (ptrdiff_t k = 0; k <= 2 * half; k++)
        weight[k] /= total;
    for (size_t i = 0; i < f->lines.n; i++)
        smooth_across(f->lines.value + i * f->lines.m, copy, weight, half, f->lines.m);
    bk_arena_rewind(arena, mark);
    return BK_OK;
}

static bk_status take_lines(bk_edge_finder *f, bk_arena *arena, bk_err *err)
{
    sample_lines(f);
    const bk_status status = smooth_lines(f, arena, err);
    return status == BK_OK && !f->options->quick ? smooth_all_across(f, arena, err) : status;
}

/* Rise of every line per px when walking outwards from the axis; side +1 goes along the normal. */
BK_WIDE static void find_rises(bk_edge_finder *f, int side)
{
    const size_t reach = f->lines.middle;
    for (size_t i = 0; i < f->lines.n; i++) {
        const float *middle = f->lines.value + i * f->lines.m + reach;
        float *to = f->rise + i * reach;
        const float scale = 0.5F / (float)f->lines.step_px;
        if (side > 0)
            for (ptrdiff_t k = 0; k < (ptrdiff_t)reach; k++)
                to[k] = scale * (middle[k + 1] - middle[k - 1]);
        else
            for (ptrdiff_t k = 0; k < (ptrdiff_t)reach; k++)
                to[k] = scale * (middle[-k - 1] - middle[1 - k]);
    }
}

static double rise(const bk_edge_finder *f, size_t i, ptrdiff_t k)
{
    return (double)f->rise[i * f->lines.middle + (size_t)k];
}

static double bending(const bk_edge_lines *lines, size_t i, ptrdiff_t k, int side)
{
    const float *middle = lines->value + i * lines->m + lines->middle;
    return (double)(middle[side * (k + 1)] + middle[side * (k - 1)] - 2 * middle[side * k]);
}

/* Vertex of the parabola through three values at -1, 0, 1; 0 when they do not peak in the middle. */
static double peak_offset(double a, double b, double c)
{
    const double curve = a + c - 2 * b;
    if (!(curve < 0) || b < a || b < c)
        return 0;
    return 0.5 * (a - c) / curve;
}

/* Sub-sample offset of an edge: mean of the steepest point and the outer point of strongest bending. */
static double refine_edge(const bk_edge_finder *f, size_t i, ptrdiff_t k, int side)
{
    const bk_edge_lines *lines = &f->lines;
    const double first =
        (double)k + peak_offset(rise(f, i, k - 1), rise(f, i, k), rise(f, i, k + 1));
    const ptrdiff_t last = (ptrdiff_t)lines->middle - 2;
    const ptrdiff_t reach = (ptrdiff_t)ceil(2.5 * f->psf_px / f->lines.step_px);
    ptrdiff_t foot = k + 1;
    for (ptrdiff_t j = k + 1; j <= k + reach && j <= last; j++)
        if (-bending(lines, i, j, side) > -bending(lines, i, foot, side))
            foot = j;
    const double second = (double)foot + peak_offset(-bending(lines, i, foot - 1, side), -bending(lines, i, foot, side),
                                                     -bending(lines, i, foot + 1, side));
    return 0.5 * (first + second) * f->lines.step_px;
}

/* Typical steepness of the edges on one side, by which costs are scaled. */
static double typical_rise(const bk_edge_finder *f, double *scratch)
{
    for (size_t i = 0; i < f->lines.n; i++)
        scratch[i] = bk_edges_steepest(f, i);
    return bk_median(scratch, f->lines.n);
}

static bk_status find_edges(bk_edge_finder *f, bk_arena *arena, bk_err *err)
{
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    const size_t n = f->lines.n;
    ptrdiff_t *edge = BK_NEW(arena, n, ptrdiff_t, err);
    double *scratch = BK_NEW(arena, n, double, err);
    if (!edge || !scratch)
        return err ? err->status : BK_E_LIMIT;
    bk_status status = take_lines(f, arena, err);
    for (int side = -1; status == BK_OK && side <= 1; side += 2) {
        find_rises(f, side);
        const double typical = typical_rise(f, scratch);
        if (!(typical > 0)) {
            status = bk_fail(err, BK_E_NOTHING, "no vessel edge was found along the limb");
            break;
        }
        status = bk_edges_trace(f, side, typical, scratch, arena, edge, err);
        for (size_t i = 0; status == BK_OK && i < n; i++) {
            const double steep = rise(f, i, edge[i]) / typical;
            (side < 0 ? f->right : f->left)[i] = refine_edge(f, i, edge[i], side);
            f->strength[i] = side < 0 ? steep : fmin(f->strength[i], steep);
        }
    }
    bk_arena_rewind(arena, mark);
    return status;
}

/* Move the axis along its normals, smoothly; edges then count from the new axis. */
static bk_status move_axis(bk_edge_finder *f, const double *shift_px, bk_arena *arena, bk_err *err)
{
    const size_t trusted = f->options->trusted_from;
    for (size_t i = 0; i < f->axis.n; i++) {
        const double shift = shift_px[i < trusted ? trusted : i]; /* the part that cannot be seen moves along */
        f->axis.points[i].x += shift * f->normal[i].x;
        f->axis.points[i].y += shift * f->normal[i].y;
    }
    bk_status status = bk_curve_smooth(&f->axis, 0.7 / f->options->mm_per_px, arena, err);
    if (status == BK_OK)
        bk_curve_normals(&f->axis, f->normal);
    return status;
}

/* Half-way between the edges. shift: n */
static bk_status recentre(bk_edge_finder *f, double *shift, bk_arena *arena, bk_err *err)
{
    for (size_t i = 0; i < f->axis.n; i++)
        shift[i] = 0.5 * (f->left[i] - f->right[i]);
    return move_axis(f, shift, arena, err);
}

/* Onto the middle of what is dark, before the first edges. shift: n */
static bk_status centre_on_dark(bk_edge_finder *f, double *shift, bk_arena *room, bk_arena *arena, bk_err *err)
{
    double *scratch = BK_NEW(room, f->axis.n, double, err);
    if (!scratch)
        return err ? err->status : BK_E_LIMIT;
    bk_status status = take_lines(f, room, err);
    if (status == BK_OK)
        status = bk_edges_dark_middle(f, scratch, room, shift, err);
    return status == BK_OK ? move_axis(f, shift, arena, err) : status;
}

static bk_status start_follower(bk_edge_finder *f, bk_arena *room, bk_arena *arena, bk_err *err)
{
    const size_t n = f->axis.n;
    f->psf_px = f->options->quick ? f->options->psf_sigma_px : hypot(f->options->psf_sigma_px, ACROSS_PX);
    double widest = 0;
    for (size_t i = 0; i < n; i++)
        widest = fmax(widest, f->radius_px[i]);
    const double reach = 1.7 * widest + 2.5 + 3 * f->options->psf_sigma_px;
    f->lines.n = n;
    f->lines.step_px = f->options->quick ? 2 * LINE_STEP_PX : LINE_STEP_PX;
    f->lines.middle = (size_t)ceil(reach / f->lines.step_px) + 3;
    f->lines.m = 2 * f->lines.middle + 1;
    f->lines.value = BK_NEW_RAW(room, n * f->lines.m, float, err);
    f->rise = BK_NEW_RAW(room, n * f->lines.middle, float, err);
    f->normal = BK_NEW(arena, n, bk_pt_px, err);
    f->left = BK_NEW(arena, n, double, err);
    f->right = BK_NEW(arena, n, double, err);
    f->strength = BK_NEW(arena, n, double, err);
    bk_pt_px *points = BK_NEW(arena, n, bk_pt_px, err);
    if (!f->lines.value || !f->rise || !f->normal || !f->left || !f->right || !f->strength || !points)
        return err ? err->status : BK_E_LIMIT;
    memcpy(points, f->axis.points, n * sizeof *points);
    f->axis.points = points;
    bk_curve_normals(&f->axis, f->normal);
    return BK_OK;
}

static bk_status follow(bk_edge_finder *f, bk_arena *room, bk_arena *arena, bk_lumen_limb *out, bk_err *err)
{
    const int rounds = f->options->quick ? ROUNDS_QUICK : ROUNDS;
    bk_status status = start_follower(f, room, arena, err);
    double *shift = status == BK_OK ? BK_NEW(room, f->axis.n, double, err) : NULL;
    if (status == BK_OK && !shift)
        return err ? err->status : BK_E_LIMIT;
    if (status == BK_OK && f->options->outside_from < f->axis.n)
        status = centre_on_dark(f, shift, room, arena, err);
    for (int round = 0; status == BK_OK && round < rounds; round++) {
        status = find_edges(f, room, err);
        if (status == BK_OK && round + 1 < rounds)
            status = recentre(f, shift, arena, err); /* the axis outlives the room */
    }
    if (status != BK_OK)
        return status;
    const size_t n = f->axis.n;
    *out = (bk_lumen_limb){.n = n, .step_px = f->axis.step_px, .axis = f->axis.points, .normal = f->normal};
    out->diameter_px = BK_NEW(arena, n, double, err);
    out->sd_px = BK_NEW(arena, n, double, err);
    if (!out->diameter_px || !out->sd_px)
        return err ? err->status : BK_E_LIMIT;
    return bk_edges_fit_widths(f, arena, out, err);
}

bk_status bk_edges_follow(const bk_image *log_image, const bk_curve *axis, const double *radius_px,
                          const bk_edge_options *options, bk_arena *arena, bk_lumen_limb *out, bk_err *err)
{
    if (options->trusted_from + 8 > axis->n)
        return bk_fail(err, BK_E_NOTHING, "only %zu samples of a limb stand clear of the branching, 8 were expected",
                       axis->n > options->trusted_from ? axis->n - options->trusted_from : 0);
    bk_edge_finder f = {.image = log_image, .options = options, .axis = *axis, .radius_px = radius_px};
    bk_arena room = bk_arena_child(arena);
    const bk_status status = follow(&f, &room, arena, out, err);
    bk_arena_child_end(&room, arena);
    return status;
}
