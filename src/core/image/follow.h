/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Points on vessels carried from one frame of a run to another. docs/methods/repeat.md. */
#ifndef BK_CORE_IMAGE_FOLLOW_H
#define BK_CORE_IMAGE_FOLLOW_H

#include "base/arena.h"
#include "base/status.h"
#include "core/image/image.h"

#define BK_FOLLOW_MATCH 0.4    /* correlation below which a point counts as lost */
#define BK_FOLLOW_LEFT 0.5     /* strength below which the contrast counts as gone */
#define BK_FOLLOW_REACH_MM 9.0 /* movement that is looked for */

typedef struct bk_followed {
    bk_pt_px at;  /* in the second frame */
    double match; /* correlation of what lies around the point in the two frames, -1..1 */
    double left;  /* strength of the tube there, in parts of that in the first frame */
} bk_followed;

/**
 * Find n points of one frame again in another.
 *
 * Both frames are turned into tubes (bk_tubes), so that what stands still behind the vessels has little say. The
 * movement common to the points is found first, over their whole surroundings; then each point's own, over 11 mm and
 * then over 5 mm around it, each time within a little of the movement before: along a straight vessel the small
 * patch cannot tell, and the larger one decides. Best shift by normalised correlation, to a part of a pixel by a
 * parabola. A point whose match is below BK_FOLLOW_MATCH, or of whose tube less than
 * BK_FOLLOW_LEFT is left, is lost: what to do then is the caller's choice.
 *
 * from, to: log intensity, one size. points: inside the frame. mm_per_px: roughly is enough.
 * Errors: BK_E_LIMIT. Threads: pure.
 */
bk_status bk_follow_points(const bk_image *from, const bk_image *to, const bk_pt_px *points, size_t n,
                           double mm_per_px, bk_arena *arena, bk_followed *out, bk_err *err) BK_MUST_CHECK;

#endif
