/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The axes of a measurement carried from frame to frame. Not for use outside src/app/repeat*.c. */
#ifndef BK_APP_REPEAT_COURSE_H
#define BK_APP_REPEAT_COURSE_H

#include <stdbool.h>

#include "base/arena.h"
#include "base/json.h"
#include "core/anatomy/course.h"

/* The axis of a limb's profile in an answer. */
typedef struct bk_answer_axis {
    const bk_json *x, *y;
    size_t n; /* 0: no profile */
} bk_answer_axis;

bk_answer_axis bk_answer_axis_of(const bk_json *answer, int limb);
bk_pt_px bk_answer_axis_point(const bk_answer_axis *axis, size_t k);
/** A point from [x, y]. */
bk_pt_px bk_answer_point(const bk_json *pair);

typedef struct bk_carried {
    bk_course course;            /* the axes of the frame that was clicked in, where they are now */
    char hidden[BK_LIMBS][160];  /* why a limb cannot be measured here; "": it can */
} bk_carried;

/** Axes of a measurement, a point about every 2 mm; a limb without a profile has its branch point only. */
void bk_carried_take(const bk_json *answer, double mm_per_px, bk_carried *out);

/**
 * Carry the axes from one frame to the next (bk_follow_points, bk_follow_settle). A limb of which two points were not
 * found again has something else over it there, and its lumen cannot be told: it is hidden, in the frames behind
 * too, for seen again after a gap it may be another vessel; its course goes where a vessel runs (bk_follow_aside).
 * from, to: log intensity. frame: of `to`. Errors: BK_E_LIMIT.
 */
bk_status bk_carried_follow(const bk_image *from, const bk_image *to, int32_t frame, double mm_per_px,
                            const bk_carried *was, bk_arena *arena, bk_carried *out, bk_err *err) BK_MUST_CHECK;

/** What is hidden in one frame is in the one behind it, too. */
void bk_carried_hide_as(const bk_carried *before, bk_carried *behind);

/** Is that limb hidden, and it alone? */
bool bk_carried_hides_only(const bk_carried *carried, int limb);

/** Is any limb hidden? */
bool bk_carried_hides(const bk_carried *carried);

bk_pt_px bk_carried_end(const bk_carried *carried, int limb);

#define BK_OFF_COURSE_MM 2.0 /* a lumen; carried axes were up to 1.3 mm off where the paths were right (docs/methods/repeat.md) */

/** Largest distance of a measured limb's axis aside from where it was carried to [mm]; 0 without a profile. */
double bk_carried_off_mm(const bk_carried *carried, int limb, const bk_json *answer, double mm_per_px);

#endif
