/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/course.h"

#include <math.h>

#include "core/image/curve.h"

#define FAR_PX 1e4

double bk_course_distance(const bk_course *course, bk_pt_px p)
{
    double least = INFINITY;
    for (int i = 0; i < BK_LIMBS; i++)
        least = fmin(least, bk_curve_distance(course->at[i], course->n[i], p));
    return least;
}

/* The point as far beyond `end` as makes no difference, away from `inner`. */
static bk_pt_px beyond(bk_pt_px end, bk_pt_px inner)
{
    const double far = FAR_PX / fmax(bk_px_distance(end, inner), 1e-9);
    return (bk_pt_px){end.x + far * (end.x - inner.x), end.y + far * (end.y - inner.y)};
}

double bk_course_aside(const bk_course *course, int limb, bk_pt_px p)
{
    const bk_pt_px *at = course->at[limb];
    const size_t n = course->n[limb];
    if (n < 2)
        return 0;
    const bk_pt_px before[2] = {beyond(at[0], at[1]), at[0]}, behind[2] = {at[n - 1], beyond(at[n - 1], at[n - 2])};
    return fmin(bk_curve_distance(at, n, p), fmin(bk_curve_distance(before, 2, p), bk_curve_distance(behind, 2, p)));
}

bk_course bk_course_moved(const bk_course *course, double dx, double dy)
{
    bk_course moved = *course;
    for (int i = 0; i < BK_LIMBS; i++)
        for (size_t k = 0; k < moved.n[i]; k++) {
            moved.at[i][k].x += dx;
            moved.at[i][k].y += dy;
        }
    return moved;
}
