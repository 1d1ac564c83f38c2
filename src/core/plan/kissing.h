/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The outline of two kissing balloons where they lie side by side (docs/methods/kissing.md): two touching
   circles and the belt a stent or a vessel forms around them. Upper bounds: only true where both balloons
   overlap. */
#ifndef BK_CORE_PLAN_KISSING_H
#define BK_CORE_PLAN_KISSING_H

typedef struct bk_kissing {
    double lumped_diameter_mm;    /* circle with the area of both balloons */
    double perimeter_diameter_mm; /* circle with the length of the belt around both */
    double hull_diameter_mm;      /* circle with the area inside the belt */
    double long_axis_mm, short_axis_mm;
    double ellipticity; /* long over short axis, 1..2 */
} bk_kissing;

/**
 * Outline of a pair of inflated balloons.
 *
 * Units   mm, inflated diameters
 * Valid   both > 0, in either order
 * Method  touching circles r1 >= r2, sin a = (r1 - r2)/(r1 + r2);
 *         belt  L = 2 sqrt(D1 D2) + (pi + 2a) r1 + (pi - 2a) r2;
 *         hull  A = (r1 + r2) sqrt(D1 D2) + (pi + 2a) r1^2 / 2 + (pi - 2a) r2^2 / 2
 * Source  none: plane geometry, derived here
 */
bk_kissing bk_kissing_outline(double a_mm, double b_mm);

#endif
