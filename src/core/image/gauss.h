/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Gaussian smoothing and halving of float images; borders are mirrored. */
#ifndef BK_CORE_IMAGE_GAUSS_H
#define BK_CORE_IMAGE_GAUSS_H

#include "base/arena.h"
#include "base/status.h"
#include "core/image/image.h"

/**
 * Smooth with a Gaussian of standard deviation sigma_px (0.3..40), cut at 3.5 sigma, separable.
 * in and out may be the same image. Scratch memory is taken from the arena and given back.
 * Errors: BK_E_LIMIT.
 */
bk_status bk_gauss_blur(const bk_image *in, double sigma_px, bk_arena *arena, bk_image *out,
                        bk_err *err) BK_MUST_CHECK;

/** Half-size image: means of 2 x 2 pixels. Pixel (i,j) of out lies at (2j+0.5, 2i+0.5) of in. */
bk_status bk_image_halve(const bk_image *in, bk_arena *arena, bk_image *out, bk_err *err) BK_MUST_CHECK;

#endif
