/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The few statistics that core takes from GSL; num.c is the only file of core that knows it. */
#ifndef BK_CORE_NUM_H
#define BK_CORE_NUM_H

#define BK_LEVEL_PCT 90 /* of every interval we propagate ourselves (contract) */

/** P(X <= x) for a standard normal X. Source: gsl_cdf_ugaussian_P. */
double bk_normal_cdf(double x);
/** x with P(X <= x) = p, 0 < p < 1. Source: gsl_cdf_ugaussian_Pinv. */
double bk_normal_quantile(double p);

#endif
