/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A limb as a curve in space: what a rebuilt bifurcation consists of, and what views and drawings take. A bifurcation
   is an array of BK_LIMBS of them in the order of core/limb.h. */
#ifndef BK_CORE_ANATOMY_SPACE_CURVE3_H
#define BK_CORE_ANATOMY_SPACE_CURVE3_H

#include <stddef.h>

#include "core/anatomy/space/vec.h"

typedef struct bk_curve3 {
    size_t n;                  /* points, 2 or more */
    const bk_vec *at;          /* mm, patient axes; the first is the branch point, then outwards */
    const double *diameter_mm; /* n: of the circle of the same area */
    const double *sd_mm;       /* n: SD of the diameter; NULL: not known */
    double direction_sd_deg;   /* SD of the direction of the whole limb, the same about both axes across it */
    double position_sd_mm;     /* SD of place along any axis that remains when the direction is right */
} bk_curve3;

#endif
