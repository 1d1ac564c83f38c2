/* SPDX-License-Identifier: GPL-3.0-or-later */
/* By how much the smallest value of a measured curve lies under that of the true one. Not for use outside
   src/core/anatomy. docs/methods/reference.md */
#ifndef BK_CORE_ANATOMY_MINIMUM_H
#define BK_CORE_ANATOMY_MINIMUM_H

#include <stdbool.h>

#include "core/image/lumen.h"

typedef struct bk_minimum_input {
    const bk_lumen_limb *limb;  /* basis and covariance of the curve's error */
    size_t first, n;            /* its samples */
    double mm_per_px;
    size_t half;                /* the minimum is one of means over 2 half + 1 samples */
    const double *value_mm, *sd_mm, *expected_mm; /* n: the curve, its SD, and the healthy lumen */
    const bool *allowed;        /* n: a mean may take part when all its samples may */
} bk_minimum_input;

/**
 * Expected error of the least mean, mostly negative: to be subtracted.
 * Method: the least of many noisy means is lower than each. A curve like the true one (the measured curve, drawn to the
 * healthy line as far as its distance from it is no more than noise) receives errors drawn from the fit's covariance;
 * the bias is that of its least mean. 64 draws in pairs of opposite sign, always the same.
 * Errors: BK_E_LIMIT. A covariance that cannot be factored, or no stretch that may take part, gives 0.
 */
bk_status bk_minimum_bias(const bk_minimum_input *input, bk_arena *arena, double *out_mm, bk_err *err) BK_MUST_CHECK;

#endif
