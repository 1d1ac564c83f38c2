/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/branch.h"

#include <math.h>
#include <string.h>

#define MEET_SD_MM 0.03 /* how exactly three axes meet */
#define BACK_MM 16.0    /* how far an axis is continued at most ... */
#define ON_MM 2.0       /* ... and how far it may have gone beyond the branch point */
#define ROUNDS 12
#define PARALLEL 1e-5     /* determinant of the normal equations over the square of their trace */

/* Parameter of the point of the curve nearest to p, by Newton steps from t. */
static double nearest_on(const bk_axis_start *s, bk_pt_px p, double t, double t_min, double t_max)
{
    for (int i = 0; i < 20; i++) {
        const bk_pt_px q = bk_axis_start_at(s, t), d = bk_axis_start_slope(s, t);
        const double g = (q.x - p.x) * d.x + (q.y - p.y) * d.y;
        const double h = d.x * d.x + d.y * d.y;
        const double next = fmin(fmax(t - g / fmax(h, 1e-9), t_min), t_max);
        if (fabs(next - t) < 1e-6)
            return next;
        t = next;
    }
    return t;
}

/* Normal equations of the point nearest to the tangents at the present nearest points, each weighed by how well its
   place is known there. */
typedef struct meeting {
    double a11, a12, a22, r1, r2;
} meeting;

static meeting meet(bk_branch *b, double mm_per_px)
{
    meeting m = {0};
    for (int i = 0; i < BK_LIMBS; i++) {
        bk_axis_start *s = &b->start[i];
        s->to_branch_px = nearest_on(s, b->point, s->to_branch_px, -BACK_MM / mm_per_px, ON_MM / mm_per_px);
        const bk_pt_px q = bk_axis_start_at(s, s->to_branch_px);
        bk_pt_px d = bk_axis_start_slope(s, s->to_branch_px);
        const double length = fmax(sqrt(d.x * d.x + d.y * d.y), 1e-9), tolerance = MEET_SD_MM / mm_per_px;
        const double weight = 1 / (bk_axis_start_variance(s, s->to_branch_px) + tolerance * tolerance);
        d.x /= length;
        d.y /= length;
        const double m11 = weight * (1 - d.x * d.x), m12 = -weight * d.x * d.y, m22 = weight * (1 - d.y * d.y);
        m.a11 += m11;
        m.a12 += m12;
        m.a22 += m22;
        m.r1 += m11 * q.x + m12 * q.y;
        m.r2 += m12 * q.x + m22 * q.y;
    }
    return m;
}

bk_status bk_branch_find(const bk_lumen_limb limb[BK_LIMBS], const size_t alone[BK_LIMBS], double mm_per_px,
                         bk_arena *arena, bk_branch *out, bk_err *err)
{
    memset(out, 0, sizeof *out);
    for (int i = 0; i < BK_LIMBS; i++) {
        const bk_status status = bk_axis_start_fit(&limb[i], alone[i], mm_per_px, arena, &out->start[i], err);
        if (status != BK_OK)
            return bk_fail_in(err, bk_limb_name(i));
        out->point.x += limb[i].axis[0].x / BK_LIMBS;
        out->point.y += limb[i].axis[0].y / BK_LIMBS;
    }
    meeting m = {0};
    double det = 0;
    for (int round = 0; round < ROUNDS; round++) {
        m = meet(out, mm_per_px);
        det = m.a11 * m.a22 - m.a12 * m.a12;
        const double trace = m.a11 + m.a22;
        if (!(det > PARALLEL * trace * trace))
            return bk_fail(err, BK_E_NOTHING, "the three limbs run parallel, a branching was expected");
        out->point = (bk_pt_px){(m.a22 * m.r1 - m.a12 * m.r2) / det, (m.a11 * m.r2 - m.a12 * m.r1) / det};
    }
    double sum = 0;
    for (int i = 0; i < BK_LIMBS; i++) {
        const double d = bk_px_distance(out->point, bk_axis_start_at(&out->start[i], out->start[i].to_branch_px));
        sum += d * d;
    }
    out->gap_px = sqrt(sum / BK_LIMBS);
    out->spread = (bk_spread_px){m.a22 / det, -m.a12 / det, m.a11 / det};
    return BK_OK;
}

bk_status bk_branch_axis(const bk_branch *branch, int limb, const bk_curve *axis, size_t from, double step_px,
                         bk_arena *arena, bk_curve *out, bk_err *err)
{
    const bk_axis_start *s = &branch->start[limb];
    const size_t lead = s->to_branch_px < 0 ? (size_t)ceil(-s->to_branch_px / step_px) : 0;
    const size_t skip = s->to_branch_px > 0 ? (size_t)ceil(s->to_branch_px / axis->step_px) : 0;
    const size_t n = lead + 1 + axis->n - from;
    bk_pt_px *points = BK_NEW(arena, n, bk_pt_px, err);
    if (!points)
        return err ? err->status : BK_E_LIMIT;
    size_t k = 0;
    /* a lesion where the limb begins keeps its middle off the continued axis: the step fades towards the branch point */
    const bk_pt_px begin = bk_axis_start_at(s, 0);
    const bk_pt_px step = {axis->points[from].x - begin.x, axis->points[from].y - begin.y};
    points[k++] = bk_axis_start_at(s, s->to_branch_px);
    for (size_t i = 1; i < lead; i++) {
        const double part = (double)i / (double)lead;
        const bk_pt_px p = bk_axis_start_at(s, s->to_branch_px * (1 - part));
        points[k++] = (bk_pt_px){p.x + part * step.x, p.y + part * step.y};
    }
    for (size_t i = from + skip; i < axis->n; i++)
        points[k++] = axis->points[i];
    return bk_curve_resample(points, k, step_px, arena, out, err);
}

/* The part of a tube that can matter near the branching: its first n samples, and the widest radius among them. */
typedef struct near_part {
    const bk_tube *tube;
    size_t n;
    double widest_px;
} near_part;

/* Is p inside the tube widened by margin? As far as p lies beyond the widest radius, so far along the axis no sample can hold it. */
static bool inside_tube(const near_part *part, bk_pt_px p, double margin_px)
{
    const bk_tube *tube = part->tube;
    for (size_t i = 0; i < part->n;) {
        const double r = 0.5 * tube->diameter_px[i] + margin_px;
        const double dx = p.x - tube->axis.points[i].x, dy = p.y - tube->axis.points[i].y, square = dx * dx + dy * dy;
        if (r > 0 && square < r * r)
            return true;
        const double beyond = (sqrt(square) - part->widest_px - margin_px) / tube->axis.step_px;
        i += beyond > 1 ? (size_t)beyond : 1;
    }
    return false;
}

static bk_pt_px wall_point(const bk_tube *tube, size_t i, int side)
{
    const bk_pt_px a = tube->axis.points[i > 0 ? i - 1 : 0];
    const bk_pt_px b = tube->axis.points[i + 1 < tube->axis.n ? i + 1 : i];
    const double length = fmax(bk_px_distance(a, b), 1e-9), r = 0.5 * tube->diameter_px[i] * side / length;
    return (bk_pt_px){tube->axis.points[i].x + r * (b.y - a.y), tube->axis.points[i].y - r * (b.x - a.x)};
}

/* Largest diameter within 20 px of the branching, of all limbs. */
static double widest_start(const bk_tube tube[BK_LIMBS])
{
    double widest = 0;
    for (int i = 0; i < BK_LIMBS; i++)
        for (size_t k = 0; k < tube[i].axis.n && (double)k * tube[i].axis.step_px < 20; k++)
            widest = fmax(widest, tube[i].diameter_px[k]);
    return widest;
}

/* Samples within `reach` of the largest diameters. */
static void near_branch(const bk_tube tube[BK_LIMBS], double reach, near_part out[BK_LIMBS])
{
    const double widest = widest_start(tube);
    for (int i = 0; i < BK_LIMBS; i++) {
        const size_t n = (size_t)(reach * widest / tube[i].axis.step_px) + 4;
        out[i] = (near_part){&tube[i], n < tube[i].axis.n ? n : tube[i].axis.n, 0};
        for (size_t k = 0; k < out[i].n; k++)
            out[i].widest_px = fmax(out[i].widest_px, 0.5 * tube[i].diameter_px[k]);
    }
}

size_t bk_tube_alone_from(const bk_tube tube[BK_LIMBS], int limb, double margin_px)
{
    size_t first = 0;
    near_part own[BK_LIMBS], others[BK_LIMBS];
    near_branch(tube, 3, own);
    near_branch(tube, 4, others);
    for (size_t i = 0; i < own[limb].n; i++)
        for (int side = -1; side <= 1; side += 2)
            for (int other = 0; other < BK_LIMBS; other++)
                if (other != limb && inside_tube(&others[other], wall_point(&tube[limb], i, side), margin_px))
                    first = i + 1;
    return first;
}

typedef struct walls {
    bk_pt_px *points;
    size_t n;
} walls;

static bk_status collect_walls(const bk_tube tube[BK_LIMBS], bk_arena *arena, walls *out, bk_err *err)
{
    near_part near[BK_LIMBS];
    size_t room = 0;
    near_branch(tube, 2.5, near);
    for (int i = 0; i < BK_LIMBS; i++)
        room += 2 * near[i].n;
    *out = (walls){BK_NEW(arena, room, bk_pt_px, err), 0};
    if (!out->points)
        return err ? err->status : BK_E_LIMIT;
    for (int i = 0; i < BK_LIMBS; i++)
        for (size_t k = 0; k < near[i].n; k++)
            for (int side = -1; side <= 1; side += 2) {
                const bk_pt_px p = wall_point(&tube[i], k, side);
                bool covered = false;
                for (int other = 0; other < BK_LIMBS && !covered; other++)
                    covered = other != i && inside_tube(&near[other], p, -0.02);
                if (!covered)
                    out->points[out->n++] = p;
            }
    return BK_OK;
}

static double clearance(const walls *w, bk_pt_px c)
{
    double least = INFINITY; /* squared */
    for (size_t i = 0; i < w->n; i++) {
        const double dx = c.x - w->points[i].x, dy = c.y - w->points[i].y, d = dx * dx + dy * dy;
        least = d < least ? d : least;
    }
    return sqrt(least);
}

/* In a straight tube every centre is as good as the next: a small price for leaving the branch point settles it. */
static double circle_score(const walls *w, bk_pt_px c, bk_pt_px branch_point, double farthest)
{
    const double away = bk_px_distance(c, branch_point);
    return away <= farthest ? clearance(w, c) - 0.03 * away : 0;
}

static void grow_circle(const walls *w, bk_pt_px branch_point, bk_core *out)
{
    out->centre = branch_point;
    const double first = clearance(w, branch_point), farthest = 0.5 * first;
    double score = first;
    for (double step = 0.25 * first; step > 0.01;) {
        bk_pt_px best = out->centre;
        double most = score;
        for (int d = 0; d < 8; d++) {
            const double angle = d * 0.78539816339744831;
            const bk_pt_px c = {out->centre.x + step * cos(angle), out->centre.y + step * sin(angle)};
            const double s = circle_score(w, c, branch_point, farthest);
            if (s > most) {
                most = s;
                best = c;
            }
        }
        if (most > score) {
            score = most;
            out->centre = best;
        } else {
            step *= 0.5;
        }
    }
    out->radius_px = clearance(w, out->centre);
}

static double leaves_circle(const bk_curve *axis, const bk_core *core)
{
    size_t last = 0;
    for (size_t i = 0; i < axis->n && (double)i * axis->step_px < 4 * core->radius_px + 4; i++)
        if (bk_px_distance(axis->points[i], core->centre) <= core->radius_px)
            last = i;
    if (last + 1 >= axis->n)
        return (double)last * axis->step_px;
    const double a = bk_px_distance(axis->points[last], core->centre);
    const double b = bk_px_distance(axis->points[last + 1], core->centre);
    const double t = b > a ? (core->radius_px - a) / (b - a) : 0;
    return ((double)last + fmin(fmax(t, 0), 1)) * axis->step_px;
}

/* The crotch: of the wall points of distal main vessel and side branch that face each other, the nearest one. */
static bk_pt_px find_carina(const bk_tube tube[BK_LIMBS], bk_pt_px branch_point)
{
    near_part near[BK_LIMBS], nearer[BK_LIMBS];
    near_branch(tube, 4, near);
    near_branch(tube, 2, nearer);
    const bk_curve *d = &tube[BK_DISTAL].axis, *s = &tube[BK_SIDE].axis;
    const bk_pt_px pd = d->points[near[BK_DISTAL].n - 1], ps = s->points[near[BK_SIDE].n - 1];
    /* the side branch lies to the left (+1) or right (-1) of the distal axis */
    const double cross = (pd.x - branch_point.x) * (ps.y - branch_point.y) - (pd.y - branch_point.y) * (ps.x - branch_point.x);
    const int side = cross < 0 ? 1 : -1;
    bk_pt_px best = branch_point;
    double least = INFINITY;
    for (size_t i = 0; i < near[BK_DISTAL].n; i++) {
        const bk_pt_px p = wall_point(&tube[BK_DISTAL], i, side);
        const double distance = bk_px_distance(p, branch_point);
        if (distance < least && !inside_tube(&near[BK_SIDE], p, 0) && !inside_tube(&nearer[BK_PROXIMAL], p, 0)) {
            least = distance;
            best = p;
        }
    }
    return best;
}

bk_status bk_core_find(const bk_tube tube[BK_LIMBS], bk_pt_px branch_point, bk_arena *arena, bk_core *out,
                       bk_err *err)
{
    walls w;
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    bk_status status = collect_walls(tube, arena, &w, err);
    if (status == BK_OK && w.n < 6)
        status = bk_fail(err, BK_E_NOTHING, "no vessel wall was found around the branch point");
    if (status == BK_OK) {
        grow_circle(&w, branch_point, out);
        for (int i = 0; i < BK_LIMBS; i++)
            out->ostium_px[i] = leaves_circle(&tube[i].axis, out);
        out->carina = find_carina(tube, branch_point);
    }
    bk_arena_rewind(arena, mark);
    return status;
}
