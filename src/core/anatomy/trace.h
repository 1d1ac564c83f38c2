/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From three clicks to three rough limbs. */
#ifndef BK_CORE_ANATOMY_TRACE_H
#define BK_CORE_ANATOMY_TRACE_H

#include "core/anatomy/bifurcation.h"

#define BK_TRACE_NO_LUMEN 2.0 /* a path whose contrast is under this follows no vessel */

typedef struct bk_trace {
    bk_curve limb[BK_LIMBS];       /* each from where the paths part, outwards to its click */
    double *radius_px[BK_LIMBS];   /* rough lumen radius at each point */
    double contrast[BK_LIMBS];     /* strength that three quarters of the path exceed, over that of the surroundings */
    int via_off[BK_LIMBS];         /* way-points that lie on no vessel */
} bk_trace;

/**
 * Ridge filter around the clicks, cheapest paths from the proximal click to the other two through their way-points, and
 * their parting. Whether a path follows a lumen is left to the caller.
 * lead: see bk_router. log_image: whole frame. Errors as bk_bifurcation_measure.
 */
bk_status bk_trace_limbs(const bk_image *log_image, const bk_measure_input *input, bool lead, bk_arena *arena, bk_trace *out,
                         bk_err *err) BK_MUST_CHECK;

#endif
