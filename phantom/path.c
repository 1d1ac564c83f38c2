/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "phantom/path.h"

#include <math.h>
#include <stdbool.h>

#define LOOK_NODES                                                                                           \
    10 /* every so many nodes (0.5 mm) the axis is looked at, to find where the ray comes near */
#define NEAR_MM                                                                                              \
    0.6              /* half a look and the rounding where tubes meet cannot bring the wall nearer than this \
                      */
#define START_MM 0.6 /* outside the wall, where stepping starts and ends */
#define NEIGHBOURHOOD_MM 18.0 /* of arc length 0, where the least level is asked for */
#define STEP_MIN_MM 0.02
#define STEP_MAX_MM 0.6
#define ROOT_MM 1e-5

typedef struct walk {
    const ph_bundle *bundle;
    ph_ray ray;
    bool used[PH_BUNDLE_TUBES];
    double foot_mm[PH_BUNDLE_TUBES];
    double from_mm, to_mm;
} walk;

/* Smooth minimum with a quadratic rounding of width k. */
static double join(double a, double b, double k)
{
    const double least = a < b ? a : b, h = k - fabs(a - b);
    return h > 0 && k > 0 ? least - h * h / (4 * k) : least;
}

static double level_at(walk *w, double t_mm, int *deepest)
{
    const ph_vec p = ph_vec_along(w->ray.from, t_mm, w->ray.way);
    double least = INFINITY, joined = INFINITY;
    for (int i = 0; i < w->bundle->n; i++) {
        if (!w->used[i])
            continue;
        const double level = ph_tube_level(w->bundle->tube[i], p, &w->foot_mm[i]);
        joined = isinf(joined) ? level : join(joined, level, w->bundle->blend_mm);
        if (level < least) {
            least = level;
            *deepest = i;
        }
    }
    return joined;
}

/* Nodes of tube i to look at: from, to (inclusive, not beyond the tube). */
static void looked_at(const ph_tube *tube, double low_mm, double high_mm, size_t *from, size_t *to)
{
    const double a = floor((low_mm - tube->first_mm) / PH_TUBE_STEP_MM);
    const double b = ceil((high_mm - tube->first_mm) / PH_TUBE_STEP_MM);
    *from = a > 0 ? (size_t)a : 0;
    *to = b < (double)(tube->n - 1) ? (size_t)b : tube->n - 1;
}

static size_t next_look(size_t at, size_t to)
{
    return at < to && at + LOOK_NODES > to ? to : at + LOOK_NODES;
}

/* Widen the window by the part of tube i the ray may meet. */
static void look(walk *w, int i, double low_mm, double high_mm)
{
    const ph_tube *tube = w->bundle->tube[i];
    double from = INFINITY, to = -INFINITY;
    size_t at, last;
    looked_at(tube, low_mm, high_mm, &at, &last);
    for (; at <= last; at = next_look(at, last)) {
        const ph_tube_node *node = &tube->node[at];
        const ph_vec d = ph_vec_sub(node->c, w->ray.from);
        const double t = ph_vec_dot(d, w->ray.way);
        const double near = node->healthy_mm + NEAR_MM, reach = node->healthy_mm + START_MM;
        if (ph_vec_dot(d, d) - t * t > near * near)
            continue;
        from = t - reach < from ? t - reach : from;
        to = t + reach > to ? t + reach : to;
    }
    if (from > to)
        return;
    w->used[i] = true;
    w->from_mm = from < w->from_mm ? from : w->from_mm;
    w->to_mm = to > w->to_mm ? to : w->to_mm;
}

/* Foot point of the window's start: the nearest axis point within reach, then Newton from there. */
static void start_foot(walk *w, int i, double low_mm, double high_mm)
{
    const ph_tube *tube = w->bundle->tube[i];
    const ph_vec p = ph_vec_along(w->ray.from, w->from_mm, w->ray.way);
    double best = INFINITY;
    size_t at, last, nearest = 0;
    looked_at(tube, low_mm, high_mm, &at, &last);
    for (; at <= last; at = next_look(at, last)) {
        const ph_vec d = ph_vec_sub(tube->node[at].c, p);
        if (ph_vec_dot(d, d) < best) {
            best = ph_vec_dot(d, d);
            nearest = at;
        }
    }
    w->foot_mm[i] = tube->first_mm + (double)nearest * PH_TUBE_STEP_MM;
}

static bool begin(walk *w, const ph_bundle *bundle, const ph_reach *reach, ph_ray ray)
{
    *w = (walk){.bundle = bundle, .ray = ray, .from_mm = INFINITY, .to_mm = -INFINITY};
    for (int i = 0; i < bundle->n; i++)
        if (reach->low_mm[i] <= reach->high_mm[i])
            look(w, i, reach->low_mm[i], reach->high_mm[i]);
    for (int i = 0; i < bundle->n; i++)
        if (w->used[i])
            start_foot(w, i, reach->low_mm[i], reach->high_mm[i]);
    return w->from_mm < w->to_mm;
}

/* Root between two levels of opposite sign (regula falsi, Illinois variant). */
static double root(walk *w, double a, double fa, double b, double fb)
{
    int which;
    for (int i = 0; i < 40; i++) {
        const double t = (a * fb - b * fa) / (fb - fa);
        const double f = level_at(w, t, &which);
        if (fabs(f) < ROOT_MM || fabs(b - a) < ROOT_MM)
            return t;
        if ((f < 0) == (fb < 0)) {
            fa *= 0.5;
        } else {
            a = b;
            fa = fb;
        }
        b = t;
        fb = f;
    }
    return b;
}

typedef struct cuts {
    double t_mm[2 * PH_PATH_PIECES];
    int n;
} cuts;

static void cut(cuts *c, double t_mm)
{
    if (c->n < 2 * PH_PATH_PIECES)
        c->t_mm[c->n++] = t_mm;
}

/* Three steps on one side of the wall with the middle one nearest to it: does the level cross in between? */
static void graze(walk *w, const double t[3], const double f[3], cuts *c)
{
    if (fabs(f[1]) > 0.1 || fabs(f[1]) > fabs(f[0]) || fabs(f[1]) > fabs(f[2]))
        return;
    const double left = (f[1] - f[0]) / (t[1] - t[0]), right = (f[2] - f[1]) / (t[2] - t[1]);
    const double bend = (right - left) / (t[2] - t[0]);
    if (bend == 0)
        return;
    const double tip = 0.5 * (t[0] + t[1]) - 0.5 * left / bend;
    if (tip <= t[0] || tip >= t[2])
        return;
    int which;
    const double f_tip = level_at(w, tip, &which);
    if ((f_tip < 0) == (f[1] < 0))
        return;
    const bool before = tip < t[1];
    cut(c, root(w, before ? t[0] : t[1], before ? f[0] : f[1], tip, f_tip));
    cut(c, root(w, tip, f_tip, before ? t[1] : t[2], before ? f[1] : f[2]));
}

static void march(walk *w, cuts *c)
{
    int which;
    double t[3] = {w->from_mm, w->from_mm, w->from_mm};
    double f[3];
    f[2] = level_at(w, t[2], &which);
    f[0] = f[1] = f[2];
    if (f[2] < 0)
        cut(c, t[2]);
    while (t[2] < w->to_mm) {
        double step = 0.7 * fabs(f[2]);
        step = step < STEP_MIN_MM ? STEP_MIN_MM : step > STEP_MAX_MM ? STEP_MAX_MM : step;
        t[0] = t[1];
        f[0] = f[1];
        t[1] = t[2];
        f[1] = f[2];
        t[2] = t[1] + step;
        f[2] = level_at(w, t[2], &which);
        if ((f[1] < 0) != (f[2] < 0))
            cut(c, root(w, t[1], f[1], t[2], f[2]));
        else if (t[0] < t[1] && (f[0] < 0) == (f[1] < 0))
            graze(w, t, f, c);
    }
    if (c->n % 2 == 1)
        cut(c, t[2]);
}

int ph_path_pieces(const ph_bundle *bundle, const ph_reach *reach, ph_ray ray, ph_piece out[PH_PATH_PIECES])
{
    walk w;
    cuts c = {.n = 0};
    if (!begin(&w, bundle, reach, ray))
        return 0;
    march(&w, &c);
    const int n = c.n / 2;
    for (int i = 0; i < n; i++) {
        out[i].in_mm = c.t_mm[2 * i];
        out[i].out_mm = c.t_mm[2 * i + 1];
        for (int j = 0; j < 3; j++) {
            const double t = out[i].in_mm + 0.5 * j * (out[i].out_mm - out[i].in_mm);
            (void)level_at(&w, t, &out[i].at[j].tube);
            out[i].at[j].s_mm = w.foot_mm[out[i].at[j].tube];
        }
    }
    return n;
}

double ph_path_length_mm(const ph_bundle *bundle, const ph_reach *reach, ph_ray ray)
{
    ph_piece piece[PH_PATH_PIECES];
    const int n = ph_path_pieces(bundle, reach, ray, piece);
    double length = 0;
    for (int i = 0; i < n; i++)
        length += piece[i].out_mm - piece[i].in_mm;
    return length;
}

ph_reach ph_reach_all(const ph_bundle *bundle)
{
    ph_reach reach = {{0}, {0}};
    for (int i = 0; i < bundle->n; i++) {
        reach.low_mm[i] = bundle->tube[i]->first_mm;
        reach.high_mm[i] = ph_tube_last_mm(bundle->tube[i]);
    }
    return reach;
}

double ph_path_least_level(const ph_bundle *bundle, ph_ray ray, double middle_mm, double half_mm)
{
    walk w = {.bundle = bundle, .ray = ray, .from_mm = middle_mm - half_mm, .to_mm = middle_mm + half_mm};
    const ph_reach all = ph_reach_all(bundle);
    for (int i = 0; i < bundle->n; i++) {
        w.used[i] = true;
        start_foot(&w, i, all.low_mm[i] > -12 ? all.low_mm[i] : -12,
                   all.high_mm[i] < 12 ? all.high_mm[i] : 12);
    }
    int which;
    const int n = 40;
    const double h = 2 * half_mm / n;
    double least = INFINITY, at = 0;
    for (int i = 0; i <= n; i++) {
        const double f = level_at(&w, w.from_mm + i * h, &which);
        if (f < least) {
            least = f;
            at = w.from_mm + i * h;
        }
    }
    double a = at - h, b = at + h; /* golden section: the level has one valley between its neighbours */
    for (int i = 0; i < 16; i++) {
        const double l = a + 0.381966 * (b - a), r = b - 0.381966 * (b - a);
        const double fl = level_at(&w, l, &which), fr = level_at(&w, r, &which);
        if (fl < fr)
            b = r;
        else
            a = l;
        least = fmin(least, fmin(fl, fr));
    }
    return least;
}
