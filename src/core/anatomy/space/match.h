/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which place of a limb in one view is which in another. */
#ifndef BK_CORE_ANATOMY_SPACE_MATCH_H
#define BK_CORE_ANATOMY_SPACE_MATCH_H

#include "core/anatomy/space/sight.h"

typedef struct bk_match {
    double arc_px[2]; /* in either view */
    bk_vec point;     /* middle of the shortest connection of both rays, as the first view's anatomy lies */
} bk_match;

/* Matches of a limb in order, from the branch point to where the first of both views ends. */
typedef struct bk_matches {
    size_t n;
    bk_match *match;
    double gap_mm; /* root mean square of the gaps between the rays, besides that at the branch point */
} bk_matches;

/** Unit direction across the epipolar planes of two views: the one component of a shift between them that shows. */
bk_vec bk_match_across(const bk_carm *a, const bk_carm *b);
/** By how much the anatomy lay further along bk_match_across in view b, so that the rays of one landmark meet [mm]. */
double bk_match_shift(const bk_carm *a, bk_pt_px in_a, const bk_carm *b, bk_pt_px in_b);

/**
 * Ordered matches of one limb by dynamic programming. b: already moved by the shift (bk_carm_for_moved).
 *
 * Cost   squared gap of the rays, squared difference of the diameters (mm, at the depth of the point), and of the
 *        advance along both axes: where epipolar lines run along the vessel, places are shared out by arc length.
 * Errors BK_E_NOTHING a limb that is not seen; BK_E_LIMIT.
 */
bk_status bk_match_limb(const bk_carm *a, const bk_sight_limb *in_a, const bk_carm *b, const bk_sight_limb *in_b,
                        bk_arena *arena, bk_matches *out, bk_err *err) BK_MUST_CHECK;

#endif
