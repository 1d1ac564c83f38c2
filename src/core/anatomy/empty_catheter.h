/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The outer width of a catheter that is not filled: two dark walls with a paler bore between them. */
#ifndef BK_CORE_ANATOMY_EMPTY_CATHETER_H
#define BK_CORE_ANATOMY_EMPTY_CATHETER_H

#include "core/image/curve.h"
#include "core/image/image.h"

/**
 * Width [px] of the outer wall and its SD, from the mean profile of a straightened shaft.
 *
 * log_image: log intensity. axis: along the middle of the shaft, 0.5 px steps. rough_px: width that edges read.
 * psf_px: SD of the image's blur, roughly (0.7 to 1.75 times it is allowed).
 * Model: quadratic background less mu (chord of the outer circle less chord of the bore), blurred; what is in the bore absorbs like
 *        what is around the catheter. Outer width, bore (0.66 to 0.92 of it, common practice) and blur on a grid, the rest by
 *        least squares; the width is the mean over the grid, weighted by how well each fits, and the SD its spread.
 * Errors: BK_E_NOTHING when no pair of walls fits; BK_E_LIMIT.
 */
bk_status bk_empty_catheter_width(const bk_image *log_image, const bk_curve *axis, double rough_px, double psf_px,
                                  bk_arena *arena, double *width_px, double *sd_px, bk_err *err) BK_MUST_CHECK;

#endif
