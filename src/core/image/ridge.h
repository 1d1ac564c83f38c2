/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Multi-scale ridge filter: how much a pixel looks like the middle of a dark vessel, and how wide it is. */
#ifndef BK_CORE_IMAGE_RIDGE_H
#define BK_CORE_IMAGE_RIDGE_H

#include "base/arena.h"
#include "base/status.h"
#include "core/image/image.h"

#define BK_RIDGE_SCALES_MAX 12

typedef struct bk_ridge {
    bk_image strength; /* 0 = no ridge; unit of the log image */
    bk_image sigma_px; /* scale that holds the most contrast (exponent 2); a lumen of radius R answers most at 0.84 R */
} bk_ridge;

/**
 * Strength = max over scales of sigma^(3/2) x the larger curvature, where that curvature is upward (dark vessel)
 * and dominates the other one. No blob term: it would punish the very junction that is looked for.
 *
 * log_image: log intensity. sigma: n scales in px, rising, 0.8..20; scales of 2 px and more work on halved images.
 * Source: Hessian at scale after Frangi et al., MICCAI 1998, doi 10.1007/BFb0056195 (DOI from memory), exponent
 *         3/4 per derivative after Lindeberg (from memory); the strength itself is our own choice.
 * Errors: BK_E_LIMIT.
 */
bk_status bk_ridge_filter(const bk_image *log_image, const double *sigma_px, int n, bk_arena *arena, bk_ridge *out,
                          bk_err *err) BK_MUST_CHECK;

#endif
