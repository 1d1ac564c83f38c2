/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/kissing.h"

#include <math.h>

#define PI 3.14159265358979323846

bk_kissing bk_kissing_outline(double a_mm, double b_mm)
{
    const double large = fmax(a_mm, b_mm), small = fmin(a_mm, b_mm);
    const double r1 = large / 2, r2 = small / 2;
    const double tilt =
        asin((r1 - r2) / (r1 + r2)); /* of the straight parts of the belt against the line of centres */
    const double straight = sqrt(large * small); /* length of each straight part */
    const double arc1 = PI + 2 * tilt, arc2 = PI - 2 * tilt;
    const double belt = 2 * straight + arc1 * r1 + arc2 * r2;
    const double hull = (r1 + r2) * straight + (arc1 * r1 * r1 + arc2 * r2 * r2) / 2;
    return (bk_kissing){
        .lumped_diameter_mm = hypot(large, small),
        .perimeter_diameter_mm = belt / PI,
        .hull_diameter_mm = sqrt(4 * hull / PI),
        .long_axis_mm = large + small,
        .short_axis_mm = large,
        .ellipticity = 1 + small / large,
    };
}
