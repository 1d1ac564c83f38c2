/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "phantom/outline.h"

#include <stdbool.h>

#define GRID 105
#define STEP_MM 0.15
#define COARSE 4 /* every 4th knot first: far from the outline the others are not needed */
#define SEGMENTS_MAX 4000
#define DEPTH_MM 4.0
#define SEARCH_MM 4.8 /* the grid holds every circle up to 3 mm of radius within this */
#define WANDER 0.02

/* The plane of the picture around the branch, in mm at its depth; x right, y down. */
typedef struct plane {
    const ph_bundle *lumen;
    const ph_carm *carm;
    ph_vec branch;
    ph_px origin;
    double mm_per_px;
} plane;

static plane plane_at(const ph_bundle *lumen, const ph_carm *carm, ph_vec branch)
{
    return (plane){lumen, carm, branch, ph_carm_project(carm, branch), ph_carm_mm_per_px(carm, branch)};
}

static double level_at(const plane *p, double x_mm, double y_mm)
{
    const ph_ray ray = {p->carm->source, ph_carm_ray(p->carm, p->origin.x + x_mm / p->mm_per_px,
                                                     p->origin.y + y_mm / p->mm_per_px)};
    const double middle = ph_vec_dot(ph_vec_sub(p->branch, ray.from), ray.way);
    return ph_path_least_level(p->lumen, ray, middle, DEPTH_MM);
}

typedef struct segment {
    double x[2], y[2];
} segment;

typedef struct outline {
    double level[GRID][GRID];
    segment segment[SEGMENTS_MAX];
    int n;
} outline;

static double grid_mm(int i)
{
    return (i - GRID / 2) * STEP_MM;
}

static void sample(const plane *p, outline *o)
{
    for (int i = 0; i < GRID; i += COARSE)
        for (int j = 0; j < GRID; j += COARSE)
            o->level[i][j] = level_at(p, grid_mm(j), grid_mm(i));
    for (int i = 0; i < GRID; i++)
        for (int j = 0; j < GRID; j++) {
            if (i % COARSE == 0 && j % COARSE == 0)
                continue;
            const double near = o->level[i / COARSE * COARSE][j / COARSE * COARSE];
            o->level[i][j] = fabs(near) > 3 * COARSE * STEP_MM ? near : level_at(p, grid_mm(j), grid_mm(i));
        }
}

static void cross(const outline *o, int i, int j, int k, int l, double xy[4][2], int *n)
{
    const double a = o->level[i][j], b = o->level[k][l];
    if ((a < 0) == (b < 0))
        return;
    const double f = a / (a - b);
    xy[*n][0] = grid_mm(j) + f * (l - j) * STEP_MM;
    xy[*n][1] = grid_mm(i) + f * (k - i) * STEP_MM;
    (*n)++;
}

static void trace(outline *o)
{
    o->n = 0;
    for (int i = 0; i + 1 < GRID; i++)
        for (int j = 0; j + 1 < GRID; j++) {
            double xy[4][2];
            int n = 0;
            cross(o, i, j, i, j + 1, xy, &n);
            cross(o, i, j + 1, i + 1, j + 1, xy, &n);
            cross(o, i + 1, j + 1, i + 1, j, xy, &n);
            cross(o, i + 1, j, i, j, xy, &n);
            for (int k = 0; k + 1 < n && o->n < SEGMENTS_MAX; k += 2)
                o->segment[o->n++] = (segment){{xy[k][0], xy[k + 1][0]}, {xy[k][1], xy[k + 1][1]}};
        }
}

static double room(const outline *o, double x, double y)
{
    double best = INFINITY;
    for (int i = 0; i < o->n; i++) {
        const segment *s = &o->segment[i];
        const double dx = s->x[1] - s->x[0], dy = s->y[1] - s->y[0];
        const double square = dx * dx + dy * dy;
        double f = square > 0 ? ((x - s->x[0]) * dx + (y - s->y[0]) * dy) / square : 0;
        f = f < 0 ? 0 : f > 1 ? 1 : f;
        best = fmin(best, hypot(x - s->x[0] - f * dx, y - s->y[0] - f * dy));
    }
    return best;
}

/* What is made largest: the radius, less a little for each mm from the branch, so that the circle does not
   wander up a vessel that merely widens by its taper. */
static double merit(const outline *o, double x, double y)
{
    const double away = hypot(x, y);
    return away > SEARCH_MM ? -(double)INFINITY : room(o, x, y) - WANDER * away;
}

/* Best knot of a grid, then steps in 32 directions, halved when none helps (the merit has creases, no
 * gradient). */
static void largest_circle(const outline *o, double *x, double *y)
{
    double best = merit(o, 0, 0), from_x = 0, from_y = 0;
    for (int i = 0; i < GRID; i += 2)
        for (int j = 0; j < GRID; j += 2) {
            const double gx = grid_mm(j), gy = grid_mm(i);
            const double m = o->level[i][j] < 0 ? merit(o, gx, gy) : -(double)INFINITY;
            if (m <= best)
                continue;
            best = m;
            from_x = gx;
            from_y = gy;
        }
    *x = from_x;
    *y = from_y;
    for (double step = 2 * STEP_MM; step > 5e-4;) {
        bool moved = false;
        for (int k = 0; k < 32 && !moved; k++) {
            const double nx = *x + step * cos(k * PH_PI / 16), ny = *y + step * sin(k * PH_PI / 16);
            const double m = merit(o, nx, ny);
            if (m <= best)
                continue;
            best = m;
            *x = nx;
            *y = ny;
            moved = true;
        }
        if (!moved)
            step *= 0.5;
    }
}

ph_core ph_outline_core(const ph_bundle *lumen, const ph_carm *carm, ph_vec branch)
{
    const plane p = plane_at(lumen, carm, branch);
    outline o;
    sample(&p, &o);
    trace(&o);
    double x, y;
    largest_circle(&o, &x, &y);
    return (ph_core){{p.origin.x + x / p.mm_per_px, p.origin.y + y / p.mm_per_px}, room(&o, x, y)};
}

/* Distance [mm] from the branch at which a line leaves the lumen; 12 when it does not before. */
static double leaves_at(const plane *p, double cos_way, double sin_way)
{
    double d = 0;
    while (d < 12) {
        const double level = level_at(p, d * cos_way, d * sin_way);
        if (level > -1e-3)
            return d;
        d += fmax(-0.7 * level, 1e-3);
    }
    return 12;
}

ph_px ph_outline_carina(const ph_bundle *lumen, const ph_carm *carm, ph_vec branch, ph_px a, ph_px b)
{
    const plane p = plane_at(lumen, carm, branch);
    const double from = atan2(a.y - p.origin.y, a.x - p.origin.x);
    const double turn = remainder(atan2(b.y - p.origin.y, b.x - p.origin.x) - from, 2 * PH_PI);
    double best = INFINITY, way = from + 0.5 * turn;
    for (int pass = 0; pass < 2; pass++) {
        const double middle = way, span = pass ? 0.05 * turn : 0.8 * turn;
        for (int k = 0; k <= 16; k++) {
            const double angle = middle + span * (k / 16.0 - 0.5);
            const double d = leaves_at(&p, cos(angle), sin(angle));
            if (d < best) {
                best = d;
                way = angle;
            }
        }
    }
    return (ph_px){p.origin.x + best * cos(way) / p.mm_per_px, p.origin.y + best * sin(way) / p.mm_per_px};
}
