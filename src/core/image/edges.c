/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/edges.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/order.h"
#include "core/image/linear.h"
#include "core/image/smooth.h"
#include "core/image/wide.h"

#define LINE_STEP_PX 0.25 /* twice that when quick */
#define ROUNDS 3
#define ROUNDS_QUICK 2
#define SLOPE_MAX 3     /* samples an edge may move from line to line: a short tight lesion has steep shoulders */
#define SLOPE_COST 0.06
#define KNOT_MM 0.7
#define BEND_PER_MM 0.6 /* prior SD of the diameter's second derivative per sqrt(mm): docs/methods/lumen.md */

/* Scan lines: n lines of m samples; sample j lies (j - middle) * step_px along the normal. */
typedef struct band {
    size_t n, m, middle;
    double step_px;
    float *value; /* n x m */
} band;

typedef struct follower {
    const bk_image *image;
    const bk_edge_options *options;
    bk_curve axis;
    bk_pt_px *normal;
    const double *radius_px;
    band lines;
    float *rise;            /* n x reach: rise of each line per px, walking outwards on the side that is looked at */
    double *left, *right;   /* offsets of the edges from the axis, both >= 0 [px] */
    double *strength;       /* steepness of the weaker edge */
} follower;

BK_WIDE static void sample_lines(follower *f)
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

/* Average neighbouring lines: noise falls, and an edge changes little over a third of a mm. */
static bk_status smooth_lines(follower *f, bk_arena *arena, bk_err *err)
{
    const double sigma = 0.35 / f->options->mm_per_px / f->axis.step_px;
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

/* Rise of every line per px when walking outwards from the axis; side +1 goes along the normal. */
BK_WIDE static void find_rises(follower *f, int side)
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

static double rise(const follower *f, size_t i, ptrdiff_t k)
{
    return (double)f->rise[i * f->lines.middle + (size_t)k];
}

static double bending(const band *lines, size_t i, ptrdiff_t k, int side)
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

static ptrdiff_t reach_of(const follower *f, size_t i)
{
    const double reach = (1.7 * f->radius_px[i] + 2.5) / f->lines.step_px;
    const ptrdiff_t most = (ptrdiff_t)f->lines.middle - 2;
    return reach > (double)most ? most : (ptrdiff_t)reach;
}

static double steepest(const follower *f, size_t i)
{
    const float *line = f->rise + i * f->lines.middle;
    float most = 0;
    for (ptrdiff_t k = 1; k < reach_of(f, i); k++)
        most = line[k] > most ? line[k] : most;
    return (double)most;
}

/* Typical steepness of the edges on one side, by which costs are scaled. */
static double typical_rise(const follower *f, double *scratch)
{
    for (size_t i = 0; i < f->lines.n; i++)
        scratch[i] = steepest(f, i);
    return bk_median(scratch, f->lines.n);
}

/* Cost of an edge at each sample of a line. Half the scale is the limb's, half the line's own: the edges of a tight
   throat are flat, yet they are edges. */
BK_WIDE static void line_costs(const follower *f, size_t i, double typical, float *cost)
{
    const ptrdiff_t reach = reach_of(f, i), m = (ptrdiff_t)f->lines.middle;
    const float *line = f->rise + i * f->lines.middle;
    const float per_scale = (float)(1 / (0.25 * typical + 0.75 * steepest(f, i)));
    const float radius = (float)f->radius_px[i], per_radius = 1 / (radius + 2);
    for (ptrdiff_t k = 0; k < m; k++) {
        const float steepness = line[k] * per_scale, away = ((float)k * (float)f->lines.step_px - radius) * per_radius;
        cost[k] = 0.2F * away * away - (steepness < 1.5F ? steepness : 1.5F);
    }
    for (ptrdiff_t k = reach; k < m; k++)
        cost[k] = 3;
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

/* Cheapest contour on one side: index of the edge sample on every line. */
static bk_status trace_side(const follower *f, double typical, bk_arena *arena, ptrdiff_t *edge, bk_err *err)
{
    const size_t n = f->lines.n, m = f->lines.middle;
    float *room = BK_NEW(arena, 4 * m + 2 * SLOPE_MAX, float, err), *sum = room + SLOPE_MAX;
    int8_t *from = BK_NEW_RAW(arena, n * m, int8_t, err);
    if (!room || !from)
        return err ? err->status : BK_E_LIMIT;
    float *best = sum + m + SLOPE_MAX, *move = best + m, *cost = move + m;
    for (size_t k = 0; k < m + 2 * SLOPE_MAX; k++)
        room[k] = 1e9F; /* beyond both ends */
    for (size_t i = 0; i < n; i++) {
        line_costs(f, i, typical, cost);
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
    return BK_OK;
}

/* Sub-sample offset of an edge: mean of the steepest point and the outer point of strongest bending. */
static double refine_edge(const follower *f, size_t i, ptrdiff_t k, int side)
{
    const band *lines = &f->lines;
    const double first =
        (double)k + peak_offset(rise(f, i, k - 1), rise(f, i, k), rise(f, i, k + 1));
    const ptrdiff_t last = (ptrdiff_t)lines->middle - 2;
    const ptrdiff_t reach = (ptrdiff_t)ceil(2.5 * f->options->psf_sigma_px / f->lines.step_px);
    ptrdiff_t foot = k + 1;
    for (ptrdiff_t j = k + 1; j <= k + reach && j <= last; j++)
        if (-bending(lines, i, j, side) > -bending(lines, i, foot, side))
            foot = j;
    const double second = (double)foot + peak_offset(-bending(lines, i, foot - 1, side), -bending(lines, i, foot, side),
                                                     -bending(lines, i, foot + 1, side));
    return 0.5 * (first + second) * f->lines.step_px;
}

static bk_status find_edges(follower *f, bk_arena *arena, bk_err *err)
{
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    const size_t n = f->lines.n;
    ptrdiff_t *edge = BK_NEW(arena, n, ptrdiff_t, err);
    double *scratch = BK_NEW(arena, n, double, err);
    if (!edge || !scratch)
        return err ? err->status : BK_E_LIMIT;
    sample_lines(f);
    bk_status status = smooth_lines(f, arena, err);
    for (int side = -1; status == BK_OK && side <= 1; side += 2) {
        find_rises(f, side);
        const double typical = typical_rise(f, scratch);
        if (!(typical > 0)) {
            status = bk_fail(err, BK_E_NOTHING, "no vessel edge was found along the limb");
            break;
        }
        status = trace_side(f, typical, arena, edge, err);
        for (size_t i = 0; status == BK_OK && i < n; i++) {
            const double steep = rise(f, i, edge[i]) / typical;
            (side < 0 ? f->right : f->left)[i] = refine_edge(f, i, edge[i], side);
            f->strength[i] = side < 0 ? steep : fmin(f->strength[i], steep);
        }
    }
    bk_arena_rewind(arena, mark);
    return status;
}

/* Move the axis half-way between the edges, smoothly; the edges then count from the new axis. */
static bk_status recentre(follower *f, bk_arena *arena, bk_err *err)
{
    const size_t trusted = f->options->trusted_from;
    for (size_t i = 0; i < f->axis.n; i++) {
        const size_t from = i < trusted ? trusted : i; /* the part that cannot be seen moves along */
        const double shift = 0.5 * (f->left[from] - f->right[from]);
        f->axis.points[i].x += shift * f->normal[i].x;
        f->axis.points[i].y += shift * f->normal[i].y;
    }
    bk_status status = bk_curve_smooth(&f->axis, 0.7 / f->options->mm_per_px, arena, err);
    if (status == BK_OK)
        bk_curve_normals(&f->axis, f->normal);
    return status;
}

/* Smooth curve through the unblurred widths; readings far from it (a crossing vessel, a lost edge) lose their
   weight in the next round. Neighbouring lines share their noise (they were averaged), so one independent
   reading is counted for each correlation length. */
static bk_status fit_widths(follower *f, bk_arena *arena, bk_lumen_limb *out, bk_err *err)
{
    const size_t n = f->axis.n;
    const double mm = f->options->mm_per_px, step = f->axis.step_px;
    const double share = step / fmax(3.5 * 0.35 / mm, step);
    double *width = BK_NEW(arena, n, double, err), *weight = BK_NEW(arena, n, double, err);
    double *scratch = BK_NEW(arena, n, double, err);
    if (!width || !weight || !scratch)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < n; i++)
        width[i] = bk_edge_unblur(f->options->table, f->left[i] + f->right[i], f->options->psf_sigma_px);
    bk_smooth smooth = {0};
    double spread = 0.3; /* px; a first guess, then what the readings show */
    for (int round = 0; round < 4; round++) {
        for (size_t i = 0; i < n; i++) {
            const double u = round ? (width[i] - bk_smooth_value(&smooth, i)) / (4.685 * spread) : 0;
            const double trust = i < f->options->trusted_from ? 0 : f->strength[i] < 0.15 ? 0.1 : 1;
            weight[i] = fabs(u) < 1 ? trust * (1 - u * u) * (1 - u * u) * share / (spread * spread) : 0;
        }
        const bk_status status = bk_smooth_fit(width, weight, n, step, KNOT_MM / mm, BEND_PER_MM * sqrt(mm), arena,
                                               &smooth, err);
        if (status != BK_OK)
            return status;
        size_t m = 0;
        for (size_t i = f->options->trusted_from; i < n; i++)
            scratch[m++] = fabs(width[i] - bk_smooth_value(&smooth, i));
        spread = fmax(1.4826 * bk_median(scratch, m), 0.15);
    }
    out->knots_n = smooth.knots_n;
    out->basis = smooth.basis;
    out->covariance = smooth.covariance;
    for (size_t i = 0; i < n; i++) {
        out->diameter_px[i] = fmax(bk_smooth_value(&smooth, i), 0);
        out->sd_px[i] = bk_smooth_sd(&smooth, i);
    }
    out->noise = spread;
    return BK_OK;
}

static bk_status start_follower(follower *f, bk_arena *room, bk_arena *arena, bk_err *err)
{
    const size_t n = f->axis.n;
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

static bk_status follow(follower *f, bk_arena *room, bk_arena *arena, bk_lumen_limb *out, bk_err *err)
{
    const int rounds = f->options->quick ? ROUNDS_QUICK : ROUNDS;
    bk_status status = start_follower(f, room, arena, err);
    for (int round = 0; status == BK_OK && round < rounds; round++) {
        status = find_edges(f, room, err);
        if (status == BK_OK && round + 1 < rounds)
            status = recentre(f, arena, err); /* the axis outlives the room */
    }
    if (status != BK_OK)
        return status;
    const size_t n = f->axis.n;
    *out = (bk_lumen_limb){.n = n, .step_px = f->axis.step_px, .axis = f->axis.points, .normal = f->normal};
    out->diameter_px = BK_NEW(arena, n, double, err);
    out->sd_px = BK_NEW(arena, n, double, err);
    if (!out->diameter_px || !out->sd_px)
        return err ? err->status : BK_E_LIMIT;
    return fit_widths(f, arena, out, err);
}

bk_status bk_edges_follow(const bk_image *log_image, const bk_curve *axis, const double *radius_px,
                          const bk_edge_options *options, bk_arena *arena, bk_lumen_limb *out, bk_err *err)
{
    if (options->trusted_from + 8 > axis->n)
        return bk_fail(err, BK_E_NOTHING, "only %zu samples of a limb stand clear of the branching, 8 were expected",
                       axis->n > options->trusted_from ? axis->n - options->trusted_from : 0);
    follower f = {.image = log_image, .options = options, .axis = *axis, .radius_px = radius_px};
    bk_arena room = bk_arena_child(arena);
    const bk_status status = follow(&f, &room, arena, out, err);
    bk_arena_child_end(&room, arena);
    return status;
}
