/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Extent of a lesion along a diameter curve. */
#ifndef BK_CORE_ANATOMY_LESION_H
#define BK_CORE_ANATOMY_LESION_H

#include <stdbool.h>
#include <stddef.h>

typedef struct bk_lesion_extent {
    bool found;
    double from_mm, to_mm;
} bk_lesion_extent;

/**
 * The stretch around the smallest lumen that is narrower than the reference.
 *
 * Shapes  position_mm, diameter_mm: n, position increasing; NaN diameters are passed over
 * Method  a lesion is there when the smallest diameter is below 90 % of the reference; it reaches to the last
 *         crossing of 90 % before the diameter is back at 95 % (so that a ripple does not cut it), by linear
 *         interpolation, or to the end of the curve; the rule of measured limbs
 * Source  none: rule of this project (no consensus threshold was found)
 */
bk_lesion_extent bk_lesion_find(const double *position_mm, const double *diameter_mm, size_t n,
                                double reference_mm);

#endif
