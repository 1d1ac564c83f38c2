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

#endif
