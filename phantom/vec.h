/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Points and directions in the patient frame: x to patient left, y posterior, z head; mm, isocentre at 0. */
#ifndef BK_PHANTOM_VEC_H
#define BK_PHANTOM_VEC_H

#include <math.h>

#define PH_PI 3.14159265358979323846
#define PH_RAD (PH_PI / 180)

typedef struct ph_vec {
    double x, y, z;
} ph_vec;

static inline ph_vec ph_vec_add(ph_vec a, ph_vec b)
{
    return (ph_vec){a.x + b.x, a.y + b.y, a.z + b.z};
}
static inline ph_vec ph_vec_sub(ph_vec a, ph_vec b)
{
    return (ph_vec){a.x - b.x, a.y - b.y, a.z - b.z};
}
/** a + f b */
static inline ph_vec ph_vec_along(ph_vec a, double f, ph_vec b)
{
    return (ph_vec){a.x + f * b.x, a.y + f * b.y, a.z + f * b.z};
}
static inline ph_vec ph_vec_times(double f, ph_vec a)
{
    return (ph_vec){f * a.x, f * a.y, f * a.z};
}
static inline double ph_vec_dot(ph_vec a, ph_vec b)
{
    return a.x * b.x + a.y * b.y + a.z * b.z;
}
static inline ph_vec ph_vec_cross(ph_vec a, ph_vec b)
{
    return (ph_vec){a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
}
static inline double ph_vec_length(ph_vec a)
{
    return sqrt(ph_vec_dot(a, a));
}
static inline ph_vec ph_vec_unit(ph_vec a)
{
    return ph_vec_times(1 / ph_vec_length(a), a);
}
/** a (1 - f) + b f */
static inline ph_vec ph_vec_mix(ph_vec a, ph_vec b, double f)
{
    return (ph_vec){a.x + f * (b.x - a.x), a.y + f * (b.y - a.y), a.z + f * (b.z - a.z)};
}
/** Angle between two directions of any length, 0..180 degrees. */
static inline double ph_vec_angle_deg(ph_vec a, ph_vec b)
{
    return atan2(ph_vec_length(ph_vec_cross(a, b)), ph_vec_dot(a, b)) / PH_RAD;
}

#endif
