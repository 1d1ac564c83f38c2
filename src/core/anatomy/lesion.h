/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Extent of a lesion along a diameter curve: the one rule for measured limbs and for solids. */
#ifndef BK_CORE_ANATOMY_LESION_H
#define BK_CORE_ANATOMY_LESION_H

#include <stdbool.h>
#include <stddef.h>

#define BK_LESION_OUT 0.90  /* of the reference: under it is lesion */
#define BK_LESION_BACK 0.95 /* at or above it the lesion is over */

/* n samples, position increasing. Passed over: NaN diameters, and what is left out. */
typedef struct bk_lesion_curve {
    const double *position_mm, *diameter_mm;
    const double *reference_mm; /* of each sample; NULL: whole_reference_mm for all */
    double whole_reference_mm;
    const bool *left_out; /* NULL: nothing */
    size_t n;
} bk_lesion_curve;

typedef struct bk_lesion_extent {
    bool found;
    double from_mm, to_mm;
} bk_lesion_extent;

/**
 * Where a lesion ends, walking from sample `start` in steps of +1 or -1.
 *
 * Method  the last crossing of 90 % of the reference before the diameter is back at 95 % (so that a ripple does not cut
 *         it), by linear interpolation; the last sample under 90 % when the curve ends there, `start` when there is none
 * Source  none: rule of this project (no consensus threshold was found)
 */
double bk_lesion_end(const bk_lesion_curve *curve, size_t start, int step);

/** Both ends around the smallest diameter; found only when it is below 90 % of the reference. */
bk_lesion_extent bk_lesion_find(const bk_lesion_curve *curve);

#endif
