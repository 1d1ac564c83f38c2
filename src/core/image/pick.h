/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which frame of a run to measure on: vessels filled, edges sharp, heart still. docs/methods/pick.md.

   The run is gone through twice, one frame at a time: bk_pick_learn for what stands still behind the vessels, then
   bk_pick_look for what each frame shows. Memory: ten working copies of at most BK_PICK_SIDE px a side, plus
   sizeof(bk_pick_frame) a frame; no frame is kept. */
#ifndef BK_CORE_IMAGE_PICK_H
#define BK_CORE_IMAGE_PICK_H

#include <stdbool.h>

#include "base/arena.h"
#include "base/status.h"
#include "core/image/image.h"
#include "core/image/linear.h"

#define BK_PICK_SIDE 320 /* frames are halved until neither side is longer */

typedef struct bk_pick_frame {
    double filling;    /* 0..1 of the best filled frame */
    double sharpness;  /* 0..1 of the sharpest filled frame; 0 where no vessel is seen */
    double stillness;  /* 0..1; 1/2 at the resting speed; NaN without a neighbour, or nothing to follow */
    double speed_mm_s; /* median of the vessels, to the neighbours; NaN as stillness */
    double diastole;   /* 0..1, 1 = late diastole; NaN when the phase is not known */
    double score;      /* 0..100 */
} bk_pick_frame;

typedef struct bk_pick_options {
    int32_t rows, cols, frames;
    bk_grey grey;
    double mm_per_px;          /* size of vessels; roughly is enough */
    double resting_speed_mm_s; /* stillness is 1/2 there */
    const unsigned char *mask; /* rows x cols, not 0 = not part of the picture; NULL: none */
} bk_pick_options;

typedef struct bk_pick bk_pick;

bk_status bk_pick_start(const bk_pick_options *options, bk_arena *arena, bk_pick **out, bk_err *err) BK_MUST_CHECK;

/** First time through: log_image of every frame, in order. Errors: BK_E_LIMIT. */
bk_status bk_pick_learn(bk_pick *pick, const bk_image *log_image, bk_err *err) BK_MUST_CHECK;
/** Second time through, in order. Errors: BK_E_LIMIT. */
bk_status bk_pick_look(bk_pick *pick, const bk_image *log_image, bk_err *err) BK_MUST_CHECK;

typedef struct bk_pick_result {
    bk_pick_frame *frame; /* in the order of the run; frame 1 is [0] */
    int32_t *order;       /* frame numbers, best first */
    bool filling_changes; /* false: vessels look alike in all frames, so all are filled or none is */
} bk_pick_result;

/**
 * Score and order. times_ms, phase_pct: one a frame; NULL: not known (15 frames a second are then assumed for the
 * speed). phase_pct may hold NaN.
 * score = 100 x min(filling/0.9, 1)^2 x (1 + sharpness)/2 x (1 + stillness)/2 x (0.9 + 0.1 diastole); a factor that
 * is not known counts 1.
 */
bk_status bk_pick_finish(bk_pick *pick, const double *times_ms, const double *phase_pct, bk_pick_result *out,
                         bk_err *err) BK_MUST_CHECK;

/** 1 from 60 % to 100 % and at 0 % of the beat, falling to 0 at 10 % and from 50 %. NaN for NaN. */
double bk_pick_diastole(double phase_pct);

/**
 * How far the tubes of image a moved to image b [px]: energy-weighted median over blocks of 32 px of the smallest
 * shift that explains the change. NaN when nothing is there to follow. Both images: bk_tubes responses, one size.
 */
bk_status bk_pick_motion(const bk_image *a, const bk_image *b, bk_arena *arena, double *out_px, bk_err *err) BK_MUST_CHECK;

#endif
