/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The axes of the three limbs in space, fitted to all views at once. */
#ifndef BK_CORE_ANATOMY_SPACE_CURVES_H
#define BK_CORE_ANATOMY_SPACE_CURVES_H

#include "core/anatomy/space/match.h"

/* A cubic B-spline with even knots; its parameter s runs from 0 at the branch point, nearly arc length, to a little beyond
   where the first of the views ends. */
typedef struct bk_space_curve {
    size_t n, first; /* coefficients; index of the first one's x among the unknowns */
    double cell_mm, end_mm;
    bk_vec *coef;
} bk_space_curve;

typedef struct bk_space_samples {
    size_t n;
    double step_mm;
    double *arc_px[BK_SIGHTS_MAX]; /* foot of each sample in each view */
} bk_space_samples;

typedef struct bk_space_fit {
    size_t views, unknowns;
    bk_space_curve limb[BK_LIMBS];
    bk_space_samples samples[BK_LIMBS];
    bk_carm carm[BK_SIGHTS_MAX]; /* as fitted: moved by the shift and turned; the first as it was */
    double shift_mm[BK_SIGHTS_MAX], turn_deg[BK_SIGHTS_MAX][2];
    double *covariance;          /* unknowns x unknowns; NULL when not asked for */
    double rms_px;               /* of the distances of the curve to the axes, over views */
    double cost;                 /* sum of squares in SD, priors included */
    double gap_mm;               /* of the first matches */
    double joined;               /* share of the limbs' length in the pictures that they join, 0..1 */
} bk_space_fit;

/* Settings that a user's evidence may change. */
typedef struct bk_space_options {
    double turn_sd_deg;  /* of an angle of the header against the true one */
    double shift_sd_mm;  /* prior of the anatomy's shift across the epipolar planes between two runs */
    double drift_sd_mm;  /* SD of one component of that shift along them, which does not show */
    bool covariance;     /* wanted */
} bk_space_options;

/**
 * Fit the three axes: matches by bk_match_limb, then Gauss-Newton on the distances of the curve's projections from the
 * axes of every view, the branch points, and the difference of the diameters that two views see at one place; priors on
 * the second derivative, on the shift across the epipolar planes and on small errors of the angles of later views.
 *
 * Errors  BK_E_NOTHING a limb is not seen in two views, or they have no common stretch, or lie within 5 degrees of each other or of
 *         opposite; BK_E_LIMIT.
 * Threads pure.
 */
bk_status bk_space_fit_limbs(const bk_sight *sight, size_t views, const bk_space_options *options, bk_arena *arena,
                             bk_space_fit *out, bk_err *err) BK_MUST_CHECK;

/** Place and, unless NULL, first derivative at s. */
bk_vec bk_space_at(const bk_space_curve *curve, double s_mm, bk_vec *slope);
/** The four coefficients that matter at s: index of the first, and their weights there. */
size_t bk_space_basis(const bk_space_curve *curve, double s_mm, double value[4], double slope[4]);

#endif
