/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/follow_line.h"

#include <math.h>
#include <string.h>

#include "core/image/smooth.h"

#define NEAR_MM 4.0       /* neighbours that a point moves with (Gaussian sigma) */
#define OWN_WEIGHT 1.0    /* of "no difference from the map" beside the neighbours' weights */
#define ASTRAY_MM 1.5     /* from where the others expect a point */
#define GRADIENT_SD 0.1  /* by which movements are expected to differ, per length */
#define FOUND_SD_MM 0.5   /* across its vessel, of a point found well */
#define ALONG_WEIGHT 0.02 /* along it, beside 1 across: a straight tube looks the same wherever it is slid to */
#define UNKNOWNS 6

/* Movement (x, y) = (c[0], c[3]) + (c[1], c[4]) (x - x0) + (c[2], c[5]) (y - y0). */
typedef struct map {
    double x0, y0, c[UNKNOWNS];
} map;

typedef struct crowd {
    const bk_pt_px *points, *normal;
    bk_pt_px *moved; /* by how much, each as found by itself */
    const bool *seen;
    size_t n;
    double mm_per_px;
} crowd;

bool bk_followed_well(const bk_followed *found)
{
    return found->match >= BK_FOLLOW_MATCH && found->left >= BK_FOLLOW_LEFT;
}

/* Add what one point tells along the unit vector u. */
static void add_row(double a[UNKNOWNS][UNKNOWNS], double b[UNKNOWNS], const double v[3], bk_pt_px u, bk_pt_px moved, double weight)
{
    const double row[UNKNOWNS] = {u.x * v[0], u.x * v[1], u.x * v[2], u.y * v[0], u.y * v[1], u.y * v[2]};
    const double right = u.x * moved.x + u.y * moved.y;
    for (int j = 0; j < UNKNOWNS; j++) {
        for (int k = 0; k < UNKNOWNS; k++)
            a[j][k] += weight * row[j] * row[k];
        b[j] += weight * row[j] * right;
    }
}

/* Least squares over the points seen but one (without = n: over all). */
static map fit_map(const crowd *p, size_t without)
{
    map m = {0};
    double a[UNKNOWNS][UNKNOWNS] = {{0}}, count = 0;
    for (size_t i = 0; i < p->n; i++)
        if (p->seen[i] && i != without) {
            m.x0 += p->points[i].x;
            m.y0 += p->points[i].y;
            count++;
        }
    if (count == 0)
        return m;
    m.x0 /= count;
    m.y0 /= count;
    for (int j = 0; j < UNKNOWNS; j++)
        a[j][j] = j % 3 ? pow(FOUND_SD_MM / p->mm_per_px / GRADIENT_SD, 2) : 0;
    for (size_t i = 0; i < p->n; i++) {
        if (!p->seen[i] || i == without)
            continue;
        const double v[3] = {1, p->points[i].x - m.x0, p->points[i].y - m.y0};
        const bk_pt_px across = p->normal[i], along = {across.y, -across.x};
        add_row(a, m.c, v, across, p->moved[i], 1);
        add_row(a, m.c, v, along, p->moved[i], ALONG_WEIGHT);
    }
    if (!bk_solve_positive(&a[0][0], UNKNOWNS, m.c))
        memset(m.c, 0, sizeof m.c);
    return m;
}

static bk_pt_px by_map(const map *m, bk_pt_px p)
{
    const double dx = p.x - m->x0, dy = p.y - m->y0;
    return (bk_pt_px){m->c[0] + m->c[1] * dx + m->c[2] * dy, m->c[3] + m->c[4] * dx + m->c[5] * dy};
}

/* By how much a point was found aside, across its vessel, from a movement. */
static double aside(const crowd *p, size_t i, bk_pt_px movement)
{
    return (p->moved[i].x - movement.x) * p->normal[i].x + (p->moved[i].y - movement.y) * p->normal[i].y;
}

/* What the points seen say about the movement at point i: without its own word, or with it. */
static bk_pt_px expected(const crowd *p, size_t i, bool with_own)
{
    const map m = fit_map(p, with_own ? p->n : i);
    const double scale = 0.5 * pow(p->mm_per_px / NEAR_MM, 2);
    double weights = OWN_WEIGHT, x = 0, y = 0;
    for (size_t k = 0; k < p->n; k++) {
        if (!p->seen[k] || (k == i && !with_own))
            continue;
        const double dx = p->points[k].x - p->points[i].x, dy = p->points[k].y - p->points[i].y;
        const double w = exp(-scale * (dx * dx + dy * dy)), off = aside(p, k, by_map(&m, p->points[k]));
        weights += w;
        x += w * off * p->normal[k].x;
        y += w * off * p->normal[k].y;
    }
    const bk_pt_px here = by_map(&m, p->points[i]);
    return (bk_pt_px){here.x + x / weights, here.y + y / weights};
}

/* The point seen that was found farthest aside from what the others say; n when none too far. */
static size_t most_astray(const crowd *p)
{
    size_t worst = p->n;
    double most = ASTRAY_MM / p->mm_per_px;
    for (size_t i = 0; i < p->n; i++) {
        const double off = p->seen[i] ? fabs(aside(p, i, expected(p, i, false))) : 0;
        if (off > most) {
            most = off;
            worst = i;
        }
    }
    return worst;
}

bk_status bk_follow_settle(const bk_pt_px *points, const bk_pt_px *normal, const bk_followed *found, size_t n,
                           double mm_per_px, bk_arena *arena, bk_pt_px *at, bool *seen, bk_err *err)
{
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    crowd p = {points, normal, BK_NEW(arena, n, bk_pt_px, err), seen, n, mm_per_px};
    if (!p.moved)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < n; i++) {
        p.moved[i] = (bk_pt_px){found[i].at.x - points[i].x, found[i].at.y - points[i].y};
        seen[i] = found[i].match >= BK_FOLLOW_MATCH; /* paler is still the same vessel */
    }
    for (size_t astray = most_astray(&p); astray < n; astray = most_astray(&p))
        seen[astray] = false;
    for (size_t i = 0; i < n; i++) {
        const bk_pt_px by = expected(&p, i, true);
        at[i] = (bk_pt_px){points[i].x + by.x, points[i].y + by.y};
    }
    bk_arena_rewind(arena, mark);
    return BK_OK;
}
