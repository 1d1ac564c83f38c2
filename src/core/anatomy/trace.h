/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From three clicks to three rough limbs. */
#ifndef BK_CORE_ANATOMY_TRACE_H
#define BK_CORE_ANATOMY_TRACE_H

#include "core/anatomy/bifurcation.h"

typedef struct bk_trace {
    bk_curve limb[BK_LIMBS];       /* each from where the paths part, outwards to its click */
    double *radius_px[BK_LIMBS];   /* rough lumen radius at each point */
    double contrast;                 /* weakest limb's median ridge strength over that of the surroundings */
} bk_trace;

/**
 * Ridge filter around the clicks, cheapest paths from the proximal click to the other two, and their parting.
 * log_image: whole frame. Errors as bk_bifurcation_measure.
 */
bk_status bk_trace_limbs(const bk_image *log_image, const bk_measure_input *input, bk_arena *arena, bk_trace *out,
                         bk_err *err) BK_MUST_CHECK;

#endif
