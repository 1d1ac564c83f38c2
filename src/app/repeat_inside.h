/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of the repeated measurement share. */
#ifndef BK_APP_REPEAT_INSIDE_H
#define BK_APP_REPEAT_INSIDE_H

#include "app/repeat.h"
#include "app/repeat_course.h"
#include "app/repeat_filling.h"
#include "base/arena.h"
#include "core/anatomy/corrections.h"
#include "dicom/dicom.h"

#define BK_REPEAT_MEMORY ((size_t)1 << 30)

#define BK_REPEAT_VALUES 3
#define BK_REPEAT_POINTS (BK_LIMBS + BK_LIMBS * BK_VIA_MAX)

/* Keys of the values that are repeated. */
extern const char *const bk_repeat_values[BK_REPEAT_VALUES];

typedef struct bk_repeat_row {
    int32_t frame;
    bk_pt_px point[BK_REPEAT_POINTS]; /* the clicks, then the way-points */
    bk_carried carried;
    char why[BK_LIMBS][160]; /* why values of a limb are missing; "" when none is */
    bool followed;    /* the points are where the vessel is */
    double match;     /* of the worst point; NaN in the frame that was clicked in */
    char reason[248]; /* "" when measured */
    double value[BK_LIMBS][BK_REPEAT_VALUES];
    bk_filling filling[BK_LIMBS]; /* against the other rows */
    bool hardly_filled[BK_LIMBS];
} bk_repeat_row;

typedef struct bk_repeat {
    const bk_measure_options *options;
    bk_dicom *file;
    bk_dicom_info info;
    bk_arena arena[2]; /* of the frame followed from and of the one followed to, in turns */
    bk_arena keep;
    bk_corrections said; /* in the frame that was clicked in */
    size_t points_n;     /* clicks and way-points */
    double mm_per_px;  /* of the answer; NaN: no scale */
    bk_limb_filling filling[BK_LIMBS];
    bk_repeat_row rows[BK_REPEAT_MAX];
    int n, own; /* rows; index of the frame that was clicked in */
} bk_repeat;

/** The answer's scale, or a plausible one when there is none [mm/px]. */
double bk_repeat_scale(const bk_repeat *r);

/** The rows of n frames about the one that was clicked in, and in that one the points: clicks and way-points. */
void bk_repeat_choose_frames(bk_repeat *r, int n);

/** Carry the points from the frame that was clicked in to one end of the window; step is -1 or +1. Where they are lost the walk ends:
    seen again after a gap, a vessel may be another one. A frame that cannot be decoded is stepped over. */
bk_status bk_repeat_carry(bk_repeat *r, int step, bk_err *err) BK_MUST_CHECK;

/** Compare the rows' contrast. What a limb that is not filled reads is not its wall: it does not count, and of the main answer's own
    frame that is said. */
void bk_repeat_judge_filling(bk_repeat *r, bk_json *answer);

/** Put `repeats` and `repeat_mean` into the answer. */
void bk_repeat_describe(const bk_repeat *r, bk_json *answer);

#endif
