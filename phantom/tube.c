/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "phantom/tube.h"

#include <math.h>

static bk_status tube_new(double first_mm, size_t n, bk_arena *arena, ph_tube *out, bk_err *err)
{
    out->node = BK_NEW(arena, n, ph_tube_node, err);
    if (!out->node)
        return err->status;
    out->n = n;
    out->first_mm = first_mm;
    for (size_t i = 0; i < n; i++)
        out->node[i].stretch = out->node[i].cos_e = 1;
    return BK_OK;
}

/* Make n normal to t and b the third axis. */
static void square_up(ph_tube_node *node)
{
    node->t = ph_vec_unit(node->t);
    node->n = ph_vec_unit(ph_vec_along(node->n, -ph_vec_dot(node->n, node->t), node->t));
    node->b = ph_vec_cross(node->t, node->n);
}

static void bend_node(const ph_tube_start *start, double s_mm, ph_tube_node *node)
{
    double k[2];
    start->bend(start->context, s_mm, k);
    node->k = ph_vec_along(ph_vec_times(k[0], node->n), k[1], node->b);
}

/* One step of the twist-free frame (t' = k, n' = -(k.n) t) by the midpoint rule. */
static void walk_step(const ph_tube_start *start, double s_mm, double step, const ph_tube_node *from,
                      ph_tube_node *to)
{
    ph_tube_node middle = *from;
    for (int half = 0; half < 2; half++) {
        const double h = half ? step : 0.5 * step;
        const ph_tube_node *slope = half ? &middle : from;
        ph_tube_node *at = half ? to : &middle;
        const double kn = ph_vec_dot(slope->k, from->n);
        const ph_vec slope_t = slope->t, slope_k = slope->k;
        at->c = ph_vec_along(from->c, h, slope_t);
        at->t = ph_vec_along(from->t, h, slope_k);
        at->n = ph_vec_along(from->n, -h * kn, slope_t);
        square_up(at);
        bend_node(start, s_mm + h, at);
    }
}

bk_status ph_tube_lay(const ph_tube_start *start, bk_arena *arena, ph_tube *out, bk_err *err)
{
    const size_t back = (size_t)ceil(-start->first_mm / PH_TUBE_STEP_MM - 1e-9);
    const size_t ahead = (size_t)ceil(start->last_mm / PH_TUBE_STEP_MM - 1e-9);
    const bk_status status = tube_new(-(double)back * PH_TUBE_STEP_MM, back + ahead + 1, arena, out, err);
    if (status != BK_OK)
        return status;
    ph_tube_node *origin = &out->node[back];
    origin->c = start->c;
    origin->t = start->t;
    origin->n = start->n;
    square_up(origin);
    bend_node(start, 0, origin);
    for (size_t i = 0; i < ahead; i++)
        walk_step(start, (double)i * PH_TUBE_STEP_MM, PH_TUBE_STEP_MM, origin + i, origin + i + 1);
    for (size_t i = 0; i < back; i++)
        walk_step(start, -(double)i * PH_TUBE_STEP_MM, -PH_TUBE_STEP_MM, origin - i, origin - i - 1);
    return BK_OK;
}

/* Points at equal steps of arc length along a fine polyline. */
static void resample(const ph_vec *points, size_t n, ph_tube *out)
{
    size_t at = 0;
    double passed = 0; /* length up to points[at] */
    for (size_t i = 0; i < out->n; i++) {
        const double s = (double)i * PH_TUBE_STEP_MM;
        double piece = ph_vec_length(ph_vec_sub(points[at + 1], points[at]));
        while (passed + piece < s && at + 2 < n) {
            passed += piece;
            at++;
            piece = ph_vec_length(ph_vec_sub(points[at + 1], points[at]));
        }
        out->node[i].c = ph_vec_mix(points[at], points[at + 1], (s - passed) / piece);
    }
}

bk_status ph_tube_through(const ph_vec *points, size_t n, double radius_mm, bk_arena *arena, ph_tube *out,
                          bk_err *err)
{
    double length = 0;
    for (size_t i = 1; i < n; i++)
        length += ph_vec_length(ph_vec_sub(points[i], points[i - 1]));
    const size_t nodes = (size_t)(length / PH_TUBE_STEP_MM);
    if (n < 2 || nodes < 8)
        return bk_fail(err, BK_E_INTERNAL, "a tube of %g mm was asked for, a longer one was expected",
                       length);
    const bk_status status = tube_new(0, nodes, arena, out, err);
    if (status != BK_OK)
        return status;
    resample(points, n, out);
    /* directions over +-4 nodes: the points are only piecewise straight */
    for (size_t i = 0; i < nodes; i++) {
        const size_t a = i > 4 ? i - 4 : 0, b = i + 4 < nodes ? i + 4 : nodes - 1;
        ph_tube_node *node = &out->node[i];
        node->t = ph_vec_sub(out->node[b].c, out->node[a].c);
        node->n = i ? out->node[i - 1].n : (ph_vec){fabs(node->t.x) < fabs(node->t.y) ? 1 : 0, 0.3, 0.2};
        square_up(node);
        node->radius_mm = node->healthy_mm = radius_mm;
    }
    return BK_OK;
}

double ph_tube_last_mm(const ph_tube *tube)
{
    return tube->first_mm + (double)(tube->n - 1) * PH_TUBE_STEP_MM;
}

/* Index of the node below s and the fraction to the next one; s is clamped to the tube. */
static size_t locate(const ph_tube *tube, double s_mm, double *fraction)
{
    double x = (s_mm - tube->first_mm) / PH_TUBE_STEP_MM;
    const double top = (double)(tube->n - 1);
    x = x < 0 ? 0 : x > top ? top : x;
    size_t i = (size_t)x;
    if (i + 2 > tube->n)
        i = tube->n - 2;
    *fraction = x - (double)i;
    return i;
}

static double mix(double a, double b, double f)
{
    return a + f * (b - a);
}

ph_tube_node ph_tube_at(const ph_tube *tube, double s_mm)
{
    double f;
    const size_t i = locate(tube, s_mm, &f);
    const ph_tube_node *p = &tube->node[i], *q = p + 1;
    return (ph_tube_node){
        .c = ph_vec_mix(p->c, q->c, f),
        .t = ph_vec_mix(p->t, q->t, f),
        .k = ph_vec_mix(p->k, q->k, f),
        .n = ph_vec_mix(p->n, q->n, f),
        .b = ph_vec_mix(p->b, q->b, f),
        .radius_mm = mix(p->radius_mm, q->radius_mm, f),
        .healthy_mm = mix(p->healthy_mm, q->healthy_mm, f),
        .off_n_mm = mix(p->off_n_mm, q->off_n_mm, f),
        .off_b_mm = mix(p->off_b_mm, q->off_b_mm, f),
        .stretch = mix(p->stretch, q->stretch, f),
        .cos_e = mix(p->cos_e, q->cos_e, f),
        .sin_e = mix(p->sin_e, q->sin_e, f),
    };
}

static ph_vec node_centre(const ph_tube_node *node)
{
    return ph_vec_along(ph_vec_along(node->c, node->off_n_mm, node->n), node->off_b_mm, node->b);
}

ph_vec ph_tube_centre(const ph_tube *tube, double s_mm)
{
    const ph_tube_node node = ph_tube_at(tube, s_mm);
    return node_centre(&node);
}

double ph_tube_width_mm(const ph_tube_node *node, ph_vec ray)
{
    const ph_vec across = ph_vec_unit(ph_vec_cross(node->t, ray));
    const double n = ph_vec_dot(across, node->n), b = ph_vec_dot(across, node->b);
    const double along_first = n * node->cos_e + b * node->sin_e;
    const double along_second = b * node->cos_e - n * node->sin_e;
    return 2 * node->radius_mm * hypot(along_first * node->stretch, along_second / node->stretch);
}

/* Newton's step for (p - c(s)) . t(s) = 0. */
static double foot_step(const ph_tube *tube, ph_vec p, double s_mm)
{
    double f;
    const size_t i = locate(tube, s_mm, &f);
    const ph_tube_node *a = &tube->node[i], *b = a + 1;
    const ph_vec d = ph_vec_sub(p, ph_vec_mix(a->c, b->c, f));
    const double ahead = ph_vec_dot(d, ph_vec_mix(a->t, b->t, f));
    const double turn = 1 - ph_vec_dot(d, ph_vec_mix(a->k, b->k, f));
    const double s = s_mm + ahead / (turn > 0.3 ? turn : 0.3);
    const double last = ph_tube_last_mm(tube);
    return s < tube->first_mm ? tube->first_mm : s > last ? last : s;
}

double ph_tube_level(const ph_tube *tube, ph_vec p, double *s_mm)
{
    *s_mm = foot_step(tube, p, *s_mm);
    const ph_tube_node node = ph_tube_at(tube, *s_mm);
    const ph_vec d = ph_vec_sub(p, node.c);
    const double n = ph_vec_dot(d, node.n) - node.off_n_mm, b = ph_vec_dot(d, node.b) - node.off_b_mm;
    const double beyond = ph_vec_dot(d, node.t); /* not 0 only past an end */
    const double first = (n * node.cos_e + b * node.sin_e) / node.stretch;
    const double second = (b * node.cos_e - n * node.sin_e) * node.stretch;
    return sqrt(first * first + second * second + beyond * beyond) - node.radius_mm;
}
