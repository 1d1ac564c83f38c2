/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The lumen model in the intensity domain, fitted jointly along the limbs of a bifurcation.
   Position along a limb is arc length in px from the branch point, growing away from it. */
#ifndef BK_CORE_IMAGE_LUMEN_H
#define BK_CORE_IMAGE_LUMEN_H

#include <stdbool.h>

#include "base/arena.h"
#include "base/status.h"
#include "core/image/image.h"

#define BK_LUMEN_LIMBS 3

/* A limb as it is known before the fit: an axis sampled every step_px of arc length, from near the branch point
   outwards, right to within about 2 px, and a diameter right to within about 30 %. */
typedef struct bk_lumen_start {
    const bk_pt_px *axis;
    const double *diameter_px;
    size_t n;
    double step_px;
    double first_px; /* arc length at which the limb is alone (edge of the core): fitted from there on */
} bk_lumen_start;

typedef struct bk_lumen_options {
    double mm_per_px;        /* scale at the isocentre: knots and priors are set in mm */
    double scatter_fraction; /* assumed part of the detected intensity that is scatter, 0..0.5 */
    double scatter_sd;       /* how sure that is; 0: 0.03. The fit corrects it as far as the image shows it */
    double psf_sigma_px;     /* starting value; 0: from the scale */
    bool lossy;              /* compressed with loss: the noise left is not all there is */
    const unsigned char *mask; /* rows x cols, not 0 = leave this pixel out (shutter, ...); NULL: none */
    int rounds_max;          /* Gauss-Newton rounds; 0: default */
    const bk_image *whole;   /* the frame that the image was cut from at (row0, col0); NULL: the image itself. Scatter
                                comes from far pixels */
    const unsigned char *whole_mask;
    int32_t row0, col0;
} bk_lumen_options;

/* The fitted limb on the same arc-length grid, from the sample nearest first_px to the end. */
typedef struct bk_lumen_limb {
    size_t n;
    double step_px, first_px; /* arc length of sample 0, along the refined axis from the start axis' origin */
    bk_pt_px *axis;           /* refined axis */
    bk_pt_px *normal;         /* unit normal, pointing left when walking away from the branch (y down) */
    double *diameter_px;
    double *sd_px;            /* of each diameter, from the information matrix and the noise really present */
    size_t knots_n;           /* diameter spline coefficients */
    double *basis;            /* n x knots_n, row-major: diameter_px = basis * coefficients */
    double *covariance;       /* knots_n x knots_n of the coefficients, noise inflation and misfit included [px^2] */
    double *misfit;           /* n: how many times the SD of noise alone sd_px is, by what the model misses; NULL: once */
    double density_per_px, density_sd;
    double noise;             /* residual SD / expected SD: 1 when the noise model holds */
    double contrast;          /* median of 1 - transmission on the axis */
} bk_lumen_limb;

typedef struct bk_lumen_fit {
    bk_lumen_limb limb[BK_LUMEN_LIMBS];
    double psf_sigma_px, psf_sd_px;
    double scatter_fraction, scatter_sd;
    double noise_gain;
    int rounds;
    int converged;
} bk_lumen_fit;

/**
 * Fit the model to the original pixels around three limbs. See docs/methods/lumen.md.
 *
 * intensity: linear X-ray intensity (any positive unit), not log.
 * Errors: BK_E_NOTHING when the densities are unusable (contrast too low, no convergence), BK_E_LIMIT, BK_E_INTERNAL.
 * Threads: pure. Same input, same bits.
 */
bk_status bk_lumen_fit_limbs(const bk_image *intensity, const bk_lumen_start start[BK_LUMEN_LIMBS],
                             const bk_lumen_options *options, bk_arena *arena, bk_lumen_fit *out,
                             bk_err *err) BK_MUST_CHECK;

#endif
