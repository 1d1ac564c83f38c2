/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Points of one vessel tree, followed from frame to frame, settled together. docs/methods/repeat.md. */
#ifndef BK_CORE_IMAGE_FOLLOW_LINE_H
#define BK_CORE_IMAGE_FOLLOW_LINE_H

#include <stdbool.h>

#include "core/image/follow.h"

/** Was a point found again, as far as it alone can tell? */
bool bk_followed_well(const bk_followed *found);

/**
 * Where n points on vessels are that move as one, from where each was found by itself.
 *
 * A point was found when its match is BK_FOLLOW_MATCH or better. The movement is a plane linear map (least squares over
 * the points found, gradients held small) and what the neighbours differ from that across their vessels
 * (Gaussian weights, 4 mm). Along its vessel a point tells next to nothing. One that lies more than 1.5 mm
 * aside from where the others expect it was found on something else: it is left out, the worst first, and gets
 * their movement, as do the points that were not found.
 * normal: n unit vectors across the vessels. found: of bk_follow_points, for the same points. at, seen: n; seen: found,
 * and where the others expect it. Fewer than three points seen: at is a guess.
 * Errors: BK_E_LIMIT. Threads: pure.
 */
bk_status bk_follow_settle(const bk_pt_px *points, const bk_pt_px *normal, const bk_followed *found, size_t n,
                           double mm_per_px, bk_arena *arena, bk_pt_px *at, bool *seen, bk_err *err) BK_MUST_CHECK;

/**
 * Move a line aside to where a vessel runs in `to`: for a limb whose points were not found one by one.
 *
 * was: the line's n points in `from`; at: roughly where they are in `to`, moved by up to 3 mm, the first one stays.
 * Of all lines through places beside the points that with the most tube under it (strength over what the line had in
 * `from` counts no more: a stronger vessel is another one), less what swinging aside costs (dynamic programme).
 * Where no vessel was in `from`, at stays. Errors: BK_E_LIMIT. Threads: pure.
 */
bk_status bk_follow_aside(const bk_image *from, const bk_image *to, const bk_pt_px *was, bk_pt_px *at, size_t n,
                          double mm_per_px, bk_arena *arena, bk_err *err) BK_MUST_CHECK;

#endif
