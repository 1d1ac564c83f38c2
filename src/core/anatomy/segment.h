/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The numbers of one limb from its fitted diameter curve. */
#ifndef BK_CORE_ANATOMY_SEGMENT_H
#define BK_CORE_ANATOMY_SEGMENT_H

#include "core/anatomy/bifurcation.h"
#include "core/anatomy/reference.h"

typedef struct bk_segment_input {
    const bk_lumen_limb *limb;
    double origin_px;       /* arc length of the limb's sample 0 from the branch point */
    double ostium_px;       /* arc length of the ostium from the branch point */
    double mm_per_px;
} bk_segment_input;

/**
 * Reference, MLD, stenosis, lesion and profile of a limb from its ostium to its click; see the contract's
 * definitions. reference (may be NULL) receives the fitted line, counted from the limb's first profile sample.
 * Errors: BK_E_NOTHING too short; BK_E_LIMIT.
 */
bk_status bk_segment_measure(const bk_segment_input *input, bk_arena *arena, bk_segment *out, bk_reference *reference,
                             bk_err *err) BK_MUST_CHECK;

#endif
