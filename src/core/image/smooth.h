/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Penalised cubic B-spline through noisy values at equal steps, with the covariance of its coefficients. */
#ifndef BK_CORE_IMAGE_SMOOTH_H
#define BK_CORE_IMAGE_SMOOTH_H

#include <stdbool.h>

#include "base/arena.h"
#include "base/status.h"

typedef struct bk_smooth {
    size_t n, knots_n;
    double *basis;        /* n x knots_n, row-major: value = basis * coefficients */
    double *coefficients; /* knots_n */
    double *covariance;   /* knots_n x knots_n */
} bk_smooth;

/**
 * Minimise sum of weight_i (value_i - f(x_i))^2 + integral of f''^2 / bend^2, f a cubic B-spline.
 *
 * weight: 1/variance of each value (0: ignored). step, knot_step: in the same length unit. bend: prior SD of
 * the second derivative per sqrt(length). At least 4 coefficients are used.
 * Method: P-splines (Eilers & Marx, Stat Sci 1996;11:89, doi 10.1214/ss/1038425655, from memory), dense Cholesky.
 * Errors: BK_E_NOTHING when the weights leave it undetermined; BK_E_LIMIT.
 */
bk_status bk_smooth_fit(const double *value, const double *weight, size_t n, double step, double knot_step,
                        double bend, bk_arena *arena, bk_smooth *out, bk_err *err) BK_MUST_CHECK;

/** Value i of the curve, and its standard deviation. */
double bk_smooth_value(const bk_smooth *smooth, size_t i);
double bk_smooth_sd(const bk_smooth *smooth, size_t i);

/** Solve matrix x = right for a symmetric positive definite n x n matrix: right becomes x, matrix its factor; false when it
    is not one. */
bool bk_solve_positive(double *matrix, size_t n, double *right);

/** Invert a symmetric positive definite n x n matrix in place; false when it is not one. */
bool bk_invert_positive(double *matrix, size_t n);

#endif
