/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/lesion.h"

#include <math.h>

#define ENTER_FRACTION 0.90
#define LEAVE_FRACTION 0.95

/* From the narrowest sample in steps of +1 or -1 to where the curve comes back to level. */
static double walk_out(const double *position, const double *diameter, size_t n, size_t start, int step,
                       double level)
{
    size_t inside = start;
    for (size_t i = start; i < n; i += (size_t)step) { // below 0 the index wraps to above n
        if (isnan(diameter[i]))
            continue;
        if (diameter[i] >= level) {
            const double part = (level - diameter[inside]) / (diameter[i] - diameter[inside]);
            return position[inside] + part * (position[i] - position[inside]);
        }
        inside = i;
    }
    return position[inside];
}

bk_lesion_extent bk_lesion_find(const double *position_mm, const double *diameter_mm, size_t n,
                                double reference_mm)
{
    size_t narrowest = n;
    for (size_t i = 0; i < n; i++)
        if (!isnan(diameter_mm[i]) && (narrowest == n || diameter_mm[i] < diameter_mm[narrowest]))
            narrowest = i;
    if (narrowest == n || !(diameter_mm[narrowest] < ENTER_FRACTION * reference_mm))
        return (bk_lesion_extent){false, 0, 0};
    const double level = LEAVE_FRACTION * reference_mm;
    return (bk_lesion_extent){true, walk_out(position_mm, diameter_mm, n, narrowest, -1, level),
                              walk_out(position_mm, diameter_mm, n, narrowest, +1, level)};
}
