/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How much contrast a stretch of vessel holds, by densitometry. */
#ifndef BK_CORE_IMAGE_FILLING_H
#define BK_CORE_IMAGE_FILLING_H

#include <stddef.h>

#include "core/image/curve.h"

/** Stretches a limb is divided into, counted from the branch point; what lies beyond the last is left out. */
#define BK_FILLING_BINS 64
#define BK_FILLING_FRAMES 16 /* that can be compared */

/**
 * Absorption summed across a vessel: log background less log intensity over a band of fixed width, background linear
 * between strips of 2 px beside it, mean over stretches of bin_px of arc length.
 * log_image: log intensity; axis, normal: n points (n >= 2) outwards along the vessel and the unit normals there, the first start_px of arc length from the
 * branch point; half_px: half the width of the band, from the axis. area: BK_FILLING_BINS values [log units x px], NaN where
 * the axis has less than half a stretch.
 * Source: Beer-Lambert; by it the sum is contrast density times the lumen's area, however the contrast lies in the lumen.
 * Display values are not linear: then only ratios between like frames mean something.
 */
void bk_filling_areas(const bk_image *log_image, const bk_pt_px *axis, const bk_pt_px *normal, size_t n, double start_px,
                      double half_px, double bin_px, double area[BK_FILLING_BINS]);

typedef struct bk_filling {
    double ratio;  /* least contrast against the other frames, 1: as much; NaN: nothing to compare */
    size_t best;   /* the frame compared with there */
    double excess; /* most contrast against any other frame, 1: as much; NaN: nothing to compare */
} bk_filling;

/**
 * Contrast of frame `own` against the other frames, where it is least (to the best of them) and where it is most (to each) along the
 * limb: medians of five neighbouring stretches from first_bin on (nearer, the limbs overlie), so that a vessel that crosses does not
 * decide. A difference counts against what the others show there or what is usual along the limb, whichever is more: in a tight
 * lesion there is little to compare.
 * area: frames rows, at most BK_FILLING_FRAMES.
 */
bk_filling bk_filling_compare(const double (*area)[BK_FILLING_BINS], size_t frames, size_t own, size_t first_bin);

#endif
