/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Points and directions in space [mm]: patient axes, x to the patient's left, y to the back, z to the head;
   isocentre at 0 (docs/conventions.md). */
#ifndef BK_CORE_ANATOMY_SPACE_VEC_H
#define BK_CORE_ANATOMY_SPACE_VEC_H

#include <math.h>

typedef struct bk_vec {
    double v[3];
} bk_vec;

static inline bk_vec bk_vec_of(double x, double y, double z)
{
    return (bk_vec){{x, y, z}};
}
/** a + f b */
static inline bk_vec bk_vec_along(bk_vec a, double f, bk_vec b)
{
    return bk_vec_of(a.v[0] + f * b.v[0], a.v[1] + f * b.v[1], a.v[2] + f * b.v[2]);
}
static inline bk_vec bk_vec_sub(bk_vec a, bk_vec b)
{
    return bk_vec_along(a, -1, b);
}
static inline double bk_vec_dot(bk_vec a, bk_vec b)
{
    return a.v[0] * b.v[0] + a.v[1] * b.v[1] + a.v[2] * b.v[2];
}
static inline bk_vec bk_vec_cross(bk_vec a, bk_vec b)
{
    return bk_vec_of(a.v[1] * b.v[2] - a.v[2] * b.v[1], a.v[2] * b.v[0] - a.v[0] * b.v[2], a.v[0] * b.v[1] - a.v[1] * b.v[0]);
}
static inline double bk_vec_length(bk_vec a)
{
    return sqrt(bk_vec_dot(a, a));
}
static inline bk_vec bk_vec_times(double f, bk_vec a)
{
    return bk_vec_of(f * a.v[0], f * a.v[1], f * a.v[2]);
}
/** Of a vector that is not 0. */
static inline bk_vec bk_vec_unit(bk_vec a)
{
    return bk_vec_times(1 / bk_vec_length(a), a);
}
/** Angle between two directions of any length, 0..180 degrees. */
static inline double bk_vec_angle_deg(bk_vec a, bk_vec b)
{
    return 180 / 3.14159265358979323846 * atan2(bk_vec_length(bk_vec_cross(a, b)), bk_vec_dot(a, b));
}

#endif
