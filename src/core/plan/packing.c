/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/packing.h"

#include <assert.h>
#include <math.h>
#include <stdbool.h>

#define PI 3.14159265358979323846
#define HALVINGS 48

typedef struct ring {
    double apart[BK_PACKING_MAX][BK_PACKING_MAX]; /* least angle between two circles that touch the wall */
    size_t n;
    size_t order[BK_PACKING_MAX]; /* circles placed so far */
    double at[BK_PACKING_MAX];    /* their angles */
} ring;

/* Angles for a tube of this radius; false when two circles are wider together than the tube. */
static bool set_angles(ring *r, const double *radii, double radius)
{
    for (size_t i = 0; i < r->n; i++)
        for (size_t j = 0; j < i; j++) {
            const double a = radius - radii[i], b = radius - radii[j], c = radii[i] + radii[j];
            if (radius < c)
                return false;
            r->apart[i][j] = r->apart[j][i] = acos(fmin(1, fmax(-1, (a * a + b * b - c * c) / (2 * a * b))));
        }
    return true;
}

/* Put every circle left behind those that are placed; the earliest place leaves most room for the rest. */
static bool place_rest(ring *r, size_t placed, unsigned left)
{
    if (left == 0)
        return true;
    for (size_t next = 0; next < r->n; next++) {
        if (!(left >> next & 1))
            continue;
        double at = 0;
        bool room = true;
        for (size_t k = 0; k < placed; k++)
            at = fmax(at, r->at[k] + r->apart[r->order[k]][next]);
        for (size_t k = 0; room && k < placed; k++) // and the other way round
            room = r->at[k] + 2 * PI - at >= r->apart[r->order[k]][next];
        if (!room)
            continue;
        r->order[placed] = next;
        r->at[placed] = at;
        if (place_rest(r, placed + 1, left & ~(1u << next)))
            return true;
    }
    return false;
}

static bool fits(ring *r, const double *radii, double radius)
{
    if (!set_angles(r, radii, radius))
        return false;
    r->order[0] = 0;
    r->at[0] = 0;
    return place_rest(r, 1, ((1u << r->n) - 1) & ~1u);
}

/* Radius of the smallest tube; *r keeps the places. */
static double solve(ring *r, const double *radii)
{
    double low = 0, high = 0, second = 0;
    for (size_t i = 0; i < r->n; i++) {
        high += radii[i]; // in a row
        second = fmax(second, fmin(radii[i], low));
        low = fmax(low, radii[i]);
    }
    low += second; // the two largest side by side
    if (r->n <= 2 || fits(r, radii, low * (1 + 1e-12)))
        return low;
    for (int i = 0; i < HALVINGS && high - low > 1e-12 * high; i++) {
        const double middle = (low + high) / 2;
        if (fits(r, radii, middle))
            high = middle;
        else
            low = middle;
    }
    return high;
}

double bk_packing_place(const double *diameters_mm, size_t n, double places_mm[][2])
{
    assert(n >= 1 && n <= BK_PACKING_MAX);
    ring r = {.n = n};
    double radii[BK_PACKING_MAX];
    for (size_t i = 0; i < n; i++)
        radii[i] = diameters_mm[i] / 2;
    const double radius = solve(&r, radii);
    if (!places_mm)
        return 2 * radius;
    fits(&r, radii, radius * (1 + 1e-9)); // the last try of the halving may have been one that failed
    for (size_t k = 0; k < n; k++) {
        places_mm[r.order[k]][0] = (radius - radii[r.order[k]]) * cos(r.at[k]);
        places_mm[r.order[k]][1] = (radius - radii[r.order[k]]) * sin(r.at[k]);
    }
    return 2 * radius;
}

double bk_packing_diameter(const double *diameters_mm, size_t n)
{
    return bk_packing_place(diameters_mm, n, NULL);
}
