/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a frame looks like a thin dark tube: brighter on both sides across, not brighter along. */
#ifndef BK_CORE_IMAGE_TUBES_H
#define BK_CORE_IMAGE_TUBES_H

#include "base/arena.h"
#include "base/status.h"
#include "core/image/image.h"

/**
 * Response of every pixel: over the distances and eight directions the largest of
 *   min(value at +d, value at -d) - value here, less the same in the least answering direction,
 * never below 0. A straight edge (collimator, diaphragm) answers 0, for one of its sides is not brighter, and so
 * does a round blob, which answers alike in all directions.
 *
 * smooth: log intensity, already smoothed to its noise. distance_px: n distances of 1..40 px, each more than half
 * a tube's width: tubes wider than 2 d do not answer. Pixels nearer to the border than the largest distance are 0.
 * out: an image of the same size. Method: our own.
 */
void bk_tubes(const bk_image *smooth, const double *distance_px, int n, bk_image *out);

#define BK_TUBES_FAR_MM 4.0
/** Distances at which coronary vessels answer, up to 4 and 8 mm wide: 2 and BK_TUBES_FAR_MM, in px that bk_tubes takes. */
void bk_tubes_distances(double mm_per_px, double distance_px[2]);

/**
 * What counts as noise, in parts of the median of the pixels that answer: most of a picture is no vessel.
 * Chosen on phantoms and one real run (docs/methods/pick.md).
 */
#define BK_TUBES_NOISE 2.5

/** Median of the pixels that answer; 0 when none does. scratch: room for as many floats as tubes has pixels. */
float bk_tubes_median(const bk_image *tubes, float *scratch);

#endif
