/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/follow_line.h"

#include <math.h>
#include <string.h>

#define NEAR_MM 4.0       /* neighbours that a point moves with (Gaussian sigma) */
#define OWN_WEIGHT 1.0    /* of "no difference from the map" beside the neighbours' weights */
#define ASTRAY_MM 1.5     /* from where the others expect a point */
#define GRADIENT_SD 0.15  /* by which movements are expected to differ, per length */
#define FOUND_SD_MM 0.5   /* of a point found well */

/* Movement (x, y) = c[0] + c[1] (x - x0) + c[2] (y - y0), each. */
typedef struct map {
    double x0, y0, c[2][3];
} map;

typedef struct crowd {
    const bk_pt_px *points;
    bk_pt_px *moved; /* by how much, each as found by itself */
    const bool *seen;
    size_t n;
    double mm_per_px;
} crowd;

bool bk_followed_well(const bk_followed *found)
{
    return found->match >= BK_FOLLOW_MATCH && found->left >= BK_FOLLOW_LEFT;
}

/* Solve the symmetric positive definite 3 x 3 system by elimination. */
static void solve3(double a[3][3], double b[2][3], double out[2][3])
{
    for (int i = 0; i < 3; i++)
        for (int j = i + 1; j < 3; j++) {
            const double f = a[j][i] / a[i][i];
            for (int k = i; k < 3; k++)
                a[j][k] -= f * a[i][k];
            b[0][j] -= f * b[0][i];
            b[1][j] -= f * b[1][i];
        }
    for (int side = 0; side < 2; side++)
        for (int i = 3; i-- > 0;) {
            double v = b[side][i];
            for (int k = i + 1; k < 3; k++)
                v -= a[i][k] * out[side][k];
            out[side][i] = v / a[i][i];
        }
}

/* Least squares over the points seen but one (without = n: over all). */
static map fit_map(const crowd *p, size_t without)
{
    map m = {0};
    double a[3][3] = {{0}}, b[2][3] = {{0}}, count = 0;
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
    const double tie = pow(FOUND_SD_MM / p->mm_per_px / GRADIENT_SD, 2);
    a[1][1] = a[2][2] = tie;
    for (size_t i = 0; i < p->n; i++) {
        if (!p->seen[i] || i == without)
            continue;
        const double v[3] = {1, p->points[i].x - m.x0, p->points[i].y - m.y0};
        for (int j = 0; j < 3; j++) {
            for (int k = 0; k < 3; k++)
                a[j][k] += v[j] * v[k];
            b[0][j] += v[j] * p->moved[i].x;
            b[1][j] += v[j] * p->moved[i].y;
        }
    }
    solve3(a, b, m.c);
    return m;
}

static bk_pt_px by_map(const map *m, bk_pt_px p)
{
    const double dx = p.x - m->x0, dy = p.y - m->y0;
    return (bk_pt_px){m->c[0][0] + m->c[0][1] * dx + m->c[0][2] * dy, m->c[1][0] + m->c[1][1] * dx + m->c[1][2] * dy};
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
        const double w = exp(-scale * (dx * dx + dy * dy));
        const bk_pt_px mapped = by_map(&m, p->points[k]);
        weights += w;
        x += w * (p->moved[k].x - mapped.x);
        y += w * (p->moved[k].y - mapped.y);
    }
    const bk_pt_px here = by_map(&m, p->points[i]);
    return (bk_pt_px){here.x + x / weights, here.y + y / weights};
}

/* The point seen that differs most from what the others say; n when none differs too much. */
static size_t most_astray(const crowd *p)
{
    size_t worst = p->n;
    double most = ASTRAY_MM / p->mm_per_px;
    for (size_t i = 0; i < p->n; i++) {
        if (!p->seen[i])
            continue;
        const bk_pt_px e = expected(p, i, false);
        const double off = hypot(p->moved[i].x - e.x, p->moved[i].y - e.y);
        if (off > most) {
            most = off;
            worst = i;
        }
    }
    return worst;
}

bk_status bk_follow_settle(const bk_pt_px *points, const bk_followed *found, size_t n, double mm_per_px,
                           bk_arena *arena, bk_pt_px *at, bool *seen, bk_err *err)
{
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    crowd p = {points, BK_NEW(arena, n, bk_pt_px, err), seen, n, mm_per_px};
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
