/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/lesion.h"

#include <math.h>

static bool readable(const bk_lesion_curve *c, size_t i)
{
    return !isnan(c->diameter_mm[i]) && !(c->left_out && c->left_out[i]);
}

/* Diameter as part of the reference. */
static double part(const bk_lesion_curve *c, size_t i)
{
    return c->diameter_mm[i] / (c->reference_mm ? c->reference_mm[i] : c->whole_reference_mm);
}

double bk_lesion_end(const bk_lesion_curve *c, size_t start, int step)
{
    size_t inside = start, next = c->n; // last sample that is lesion, and the readable one behind it
    for (size_t i = start; i < c->n; i += (size_t)step) { // below 0 the index wraps to above n
        if (!readable(c, i))
            continue;
        if (part(c, i) < BK_LESION_OUT) {
            inside = i;
            next = c->n;
        } else if (next == c->n) {
            next = i;
        }
        if (part(c, i) >= BK_LESION_BACK)
            break;
    }
    const double here = part(c, inside);
    if (next == c->n || !(here < BK_LESION_OUT))
        return c->position_mm[inside];
    const double share = (BK_LESION_OUT - here) / (part(c, next) - here);
    return c->position_mm[inside] + share * (c->position_mm[next] - c->position_mm[inside]);
}

bk_lesion_extent bk_lesion_find(const bk_lesion_curve *c)
{
    size_t narrowest = c->n;
    for (size_t i = 0; i < c->n; i++)
        if (readable(c, i) && (narrowest == c->n || c->diameter_mm[i] < c->diameter_mm[narrowest]))
            narrowest = i;
    if (narrowest == c->n || !(part(c, narrowest) < BK_LESION_OUT))
        return (bk_lesion_extent){false, 0, 0};
    return (bk_lesion_extent){true, bk_lesion_end(c, narrowest, -1), bk_lesion_end(c, narrowest, 1)};
}
