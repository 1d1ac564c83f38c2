/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/branch.h"

#include <math.h>
#include <string.h>

bk_pt_px bk_axis_start_at(const bk_axis_start *s, double t)
{
    return (bk_pt_px){s->ax + t * (s->bx + t * s->cx), s->ay + t * (s->by + t * s->cy)};
}

static bk_pt_px slope_at(const bk_axis_start *s, double t)
{
    return (bk_pt_px){s->bx + 2 * t * s->cx, s->by + 2 * t * s->cy};
}

/* Least-squares parabola of one coordinate. The curvature carries a weak prior (radius of curvature of 20 mm or
   more is usual), without which a short limb would be continued on a wild bend. */
static bool fit_parabola(const double *t, const double *v, size_t n, double bend_weight, double out[3])
{
    double m[3][4] = {{0}};
    for (size_t i = 0; i < n; i++) {
        const double row[3] = {1, t[i], t[i] * t[i]};
        for (int a = 0; a < 3; a++) {
            for (int b = 0; b < 3; b++)
                m[a][b] += row[a] * row[b];
            m[a][3] += row[a] * v[i];
        }
    }
    m[2][2] += bend_weight;
    for (int a = 0; a < 3; a++) {
        if (!(fabs(m[a][a]) > 1e-12))
            return false;
        for (int r = 0; r < 3; r++) {
            if (r == a)
                continue;
            const double f = m[r][a] / m[a][a];
            for (int b = a; b < 4; b++)
                m[r][b] -= f * m[a][b];
        }
    }
    for (int a = 0; a < 3; a++)
        out[a] = m[a][3] / m[a][a];
    return true;
}

#define FIT_MAX 512
#define CONTINUED_SD 0.01 /* of the window: what a parabola misses of the axis inside the core (phantoms) */

static bk_status fit_start(const bk_curve *axis, size_t from, double window_px, bk_axis_start *out, bk_err *err)
{
    double t[FIT_MAX], x[FIT_MAX], y[FIT_MAX];
    size_t n = 0;
    for (size_t i = from; i < axis->n && n < FIT_MAX; i++) {
        const double at = (double)(i - from) * axis->step_px;
        if (at > window_px)
            break;
        t[n] = at;
        x[n] = axis->points[i].x;
        y[n] = axis->points[i].y;
        n++;
    }
    double fx[3], fy[3];
    /* noise of an axis point about 0.1 px, curvature/2 of about 1/300 px: in units of point noise */
    const double bend_weight = (0.1 * 300) * (0.1 * 300) * 4;
    if (n < 6 || !fit_parabola(t, x, n, bend_weight, fx) || !fit_parabola(t, y, n, bend_weight, fy))
        return bk_fail(err, BK_E_NOTHING, "a limb of %zu samples is too short to be continued to the branch point", n);
    *out = (bk_axis_start){fx[0], fx[1], fx[2], fy[0], fy[1], fy[2], 0, 0};
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        const bk_pt_px p = bk_axis_start_at(out, t[i]);
        sum += (p.x - x[i]) * (p.x - x[i]) + (p.y - y[i]) * (p.y - y[i]);
    }
    out->rms_px = sqrt(sum / (double)n);
    return BK_OK;
}

/* Parameter of the point of the parabola nearest to p, by Newton steps from t. */
static double nearest_on(const bk_axis_start *s, bk_pt_px p, double t, double t_min, double t_max)
{
    for (int i = 0; i < 20; i++) {
        const bk_pt_px q = bk_axis_start_at(s, t), d = slope_at(s, t);
        const double g = (q.x - p.x) * d.x + (q.y - p.y) * d.y;
        const double h = d.x * d.x + d.y * d.y;
        const double next = fmin(fmax(t - g / fmax(h, 1e-9), t_min), t_max);
        if (fabs(next - t) < 1e-6)
            return next;
        t = next;
    }
    return t;
}

/* One step: the point nearest to the three tangent lines at the current nearest points. */
static bool improve_point(bk_branch *b, double window_px)
{
    double a11 = 0, a12 = 0, a22 = 0, r1 = 0, r2 = 0;
    for (int i = 0; i < BK_LIMBS; i++) {
        bk_axis_start *s = &b->start[i];
        s->to_branch_px = nearest_on(s, b->point, s->to_branch_px, -2 * window_px, 0.25 * window_px);
        const bk_pt_px q = bk_axis_start_at(s, s->to_branch_px);
        bk_pt_px d = slope_at(s, s->to_branch_px);
        const double length = fmax(sqrt(d.x * d.x + d.y * d.y), 1e-9);
        d.x /= length;
        d.y /= length;
        const double m11 = 1 - d.x * d.x, m12 = -d.x * d.y, m22 = 1 - d.y * d.y;
        a11 += m11;
        a12 += m12;
        a22 += m22;
        r1 += m11 * q.x + m12 * q.y;
        r2 += m12 * q.x + m22 * q.y;
    }
    const double det = a11 * a22 - a12 * a12;
    if (!(det > 1e-4))
        return false;
    b->point = (bk_pt_px){(a22 * r1 - a12 * r2) / det, (a11 * r2 - a12 * r1) / det};
    return true;
}

bk_status bk_branch_find(const bk_curve limb[BK_LIMBS], const size_t from[BK_LIMBS], double window_px,
                         bk_branch *out, bk_err *err)
{
    memset(out, 0, sizeof *out);
    for (int i = 0; i < BK_LIMBS; i++) {
        if (fit_start(&limb[i], from[i], window_px, &out->start[i], err) != BK_OK)
            return bk_fail_in(err, bk_limb_name(i));
        out->point.x += limb[i].points[0].x / BK_LIMBS;
        out->point.y += limb[i].points[0].y / BK_LIMBS;
    }
    for (int round = 0; round < 12; round++)
        if (!improve_point(out, window_px))
            return bk_fail(err, BK_E_NOTHING, "the three limbs run parallel, a branching was expected");
    double sum = 0, scatter = 0;
    for (int i = 0; i < BK_LIMBS; i++) {
        const double d = bk_px_distance(out->point, bk_axis_start_at(&out->start[i], out->start[i].to_branch_px));
        sum += d * d;
        scatter += out->start[i].rms_px * out->start[i].rms_px;
    }
    out->gap_px = sqrt(sum / BK_LIMBS);
    /* three lines and two unknowns leave one degree of freedom: too few to trust the gap alone */
    const double continued = CONTINUED_SD * window_px;
    out->sd_px = sqrt(0.5 * sum + scatter / BK_LIMBS + continued * continued);
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
    points[k++] = bk_axis_start_at(s, s->to_branch_px);
    for (size_t i = 1; i < lead; i++)
        points[k++] = bk_axis_start_at(s, s->to_branch_px * (1 - (double)i / (double)lead));
    for (size_t i = from + skip; i < axis->n; i++)
        points[k++] = axis->points[i];
    return bk_curve_resample(points, k, step_px, arena, out, err);
}

/* Is p inside the tube widened by margin? Only the samples up to n count. */
static bool inside_tube(const bk_tube *tube, size_t n, bk_pt_px p, double margin_px)
{
    for (size_t i = 0; i < n && i < tube->axis.n; i++) {
        const double r = 0.5 * tube->diameter_px[i] + margin_px;
        const double dx = p.x - tube->axis.points[i].x, dy = p.y - tube->axis.points[i].y;
        if (r > 0 && dx * dx + dy * dy < r * r)
            return true;
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

/* Samples of a tube that can matter near the branching: within four of its largest radii. */
static size_t near_branch(const bk_tube tube[BK_LIMBS], int limb, double reach)
{
    double widest = 0;
    for (int i = 0; i < BK_LIMBS; i++)
        for (size_t k = 0; k < tube[i].axis.n && (double)k * tube[i].axis.step_px < 20; k++)
            widest = fmax(widest, tube[i].diameter_px[k]);
    const size_t n = (size_t)(reach * widest / tube[limb].axis.step_px) + 4;
    return n < tube[limb].axis.n ? n : tube[limb].axis.n;
}

size_t bk_tube_alone_from(const bk_tube tube[BK_LIMBS], int limb, double margin_px)
{
    size_t first = 0;
    const size_t n = near_branch(tube, limb, 3);
    for (size_t i = 0; i < n; i++)
        for (int side = -1; side <= 1; side += 2)
            for (int other = 0; other < BK_LIMBS; other++)
                if (other != limb &&
                    inside_tube(&tube[other], near_branch(tube, other, 4), wall_point(&tube[limb], i, side), margin_px))
                    first = i + 1;
    return first;
}

typedef struct walls {
    bk_pt_px *points;
    size_t n;
} walls;

static bk_status collect_walls(const bk_tube tube[BK_LIMBS], bk_arena *arena, walls *out, bk_err *err)
{
    size_t near[BK_LIMBS], room = 0;
    for (int i = 0; i < BK_LIMBS; i++) {
        near[i] = near_branch(tube, i, 2.5);
        room += 2 * near[i];
    }
    *out = (walls){BK_NEW(arena, room, bk_pt_px, err), 0};
    if (!out->points)
        return err ? err->status : BK_E_LIMIT;
    for (int i = 0; i < BK_LIMBS; i++)
        for (size_t k = 0; k < near[i]; k++)
            for (int side = -1; side <= 1; side += 2) {
                const bk_pt_px p = wall_point(&tube[i], k, side);
                bool covered = false;
                for (int other = 0; other < BK_LIMBS && !covered; other++)
                    covered = other != i && inside_tube(&tube[other], near[other], p, -0.02);
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
    const size_t near[2] = {near_branch(tube, BK_DISTAL, 4), near_branch(tube, BK_SIDE, 4)};
    const bk_curve *d = &tube[BK_DISTAL].axis, *s = &tube[BK_SIDE].axis;
    const bk_pt_px pd = d->points[near[0] - 1], ps = s->points[near[1] - 1];
    /* the side branch lies to the left (+1) or right (-1) of the distal axis */
    const double cross = (pd.x - branch_point.x) * (ps.y - branch_point.y) - (pd.y - branch_point.y) * (ps.x - branch_point.x);
    const int side = cross < 0 ? 1 : -1;
    bk_pt_px best = branch_point;
    double least = INFINITY;
    for (size_t i = 0; i < near[0]; i++) {
        const bk_pt_px p = wall_point(&tube[BK_DISTAL], i, side);
        const double distance = bk_px_distance(p, branch_point);
        if (distance < least && !inside_tube(&tube[BK_SIDE], near[1], p, 0) &&
            !inside_tube(&tube[BK_PROXIMAL], near_branch(tube, BK_PROXIMAL, 2), p, 0)) {
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
