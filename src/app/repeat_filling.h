/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which limbs of repeated frames are filled enough to be measured. */
#ifndef BK_APP_REPEAT_FILLING_H
#define BK_APP_REPEAT_FILLING_H

#include "app/repeat.h"
#include "base/json.h"
#include "core/image/filling.h"
#include "core/limb.h"

/* A limb with less contrast than this part of what a neighbouring frame shows at the same place, and a MLD that is not alike: contrast
   does not reach the wall, or the outside is another vessel. Filled frames differ by a tenth of the one (docs/methods/repeat.md). Our
   choice; no source. */
#define BK_FILLING_LEAST 0.8
#define BK_FILLING_ALIKE 0.85

/* A limb with more contrast than this part of what any other frame shows has something else over it, or the others are not filled. Our
   choice; no source. */
#define BK_FILLING_MOST 1.5

/* What every frame of a repeat shows of a limb, and what is compared. */
typedef struct bk_limb_filling {
    double area[BK_REPEAT_MAX][BK_FILLING_BINS];
    size_t first_bin; /* nearer, the limbs overlie */
    double half_px; /* of the band, the same in every frame; NaN: the limb has no measured lumen */
    double bin_px;
} bk_limb_filling;

/** Fix the band of each limb by the main answer. filling: zeros; mm_per_px: positive. Errors: BK_E_LIMIT. */
bk_status bk_limb_filling_start(const bk_json *answer, double mm_per_px, bk_arena *arena, bk_limb_filling filling[BK_LIMBS],
                                bk_err *err) BK_MUST_CHECK;

/** Take what frame `row` shows along the limbs of its measurement. Errors: BK_E_LIMIT. */
bk_status bk_limb_filling_take(const bk_json *answer, const bk_image *log_image, int row, bk_arena *arena,
                               bk_limb_filling filling[BK_LIMBS], bk_err *err) BK_MUST_CHECK;

/** What frame `row` shows of a limb is not compared. */
void bk_limb_filling_drop(bk_limb_filling *filling, int row);

/** The limb in frame `row` against the other frames. */
bk_filling bk_limb_filling_of(const bk_limb_filling *filling, int rows, int row);

#endif
