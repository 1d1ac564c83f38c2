/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/lesion.h"

#include <math.h>

#define OUT_FRACTION 0.90  /* of the reference: under it is lesion */
#define BACK_FRACTION 0.95 /* at or above it the lesion is over */

/* From the narrowest sample in steps of +1 or -1: where the curve last crosses OUT_FRACTION before it is
 * back. */
static double walk_out(const double *position, const double *diameter, size_t n, size_t start, int step,
                       double reference)
{
    size_t inside = start, next = n; // last sample that is lesion, and the readable one behind it
    for (size_t i = start; i < n; i += (size_t)step) { // below 0 the index wraps to above n
        if (isnan(diameter[i]))
            continue;
        if (diameter[i] < OUT_FRACTION * reference) {
            inside = i;
            next = n;
        } else if (next == n) {
            next = i;
        }
        if (diameter[i] >= BACK_FRACTION * reference)
            break;
    }
    if (next == n)
        return position[inside];
    const double part = (OUT_FRACTION * reference - diameter[inside]) / (diameter[next] - diameter[inside]);
    return position[inside] + part * (position[next] - position[inside]);
}

bk_lesion_extent bk_lesion_find(const double *position_mm, const double *diameter_mm, size_t n,
                                double reference_mm)
{
    size_t narrowest = n;
    for (size_t i = 0; i < n; i++)
        if (!isnan(diameter_mm[i]) && (narrowest == n || diameter_mm[i] < diameter_mm[narrowest]))
            narrowest = i;
    if (narrowest == n || !(diameter_mm[narrowest] < OUT_FRACTION * reference_mm))
        return (bk_lesion_extent){false, 0, 0};
    return (bk_lesion_extent){true, walk_out(position_mm, diameter_mm, n, narrowest, -1, reference_mm),
                              walk_out(position_mm, diameter_mm, n, narrowest, +1, reference_mm)};
}
