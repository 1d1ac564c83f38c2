/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The beginning of a limb's axis as a curve that can be continued into the core. All in px. */
#ifndef BK_CORE_ANATOMY_AXIS_START_H
#define BK_CORE_ANATOMY_AXIS_START_H

#include "core/image/lumen.h"

#define BK_AXIS_TERMS 4

/* Cubic in t = arc length from the first sample that the limb has for itself; negative towards the branching. */
typedef struct bk_axis_start {
    double x[BK_AXIS_TERMS], y[BK_AXIS_TERMS];
    double covariance[BK_AXIS_TERMS][BK_AXIS_TERMS]; /* of the coefficients of either coordinate */
    double to_branch_px; /* t of the point nearest to the branch point; set by bk_branch_find */
} bk_axis_start;

/**
 * Weighted least squares through the beginning of a fitted axis.
 *
 * limb: sampled outwards; alone: its first sample beyond the other lumens; mm_per_px sets priors and weights.
 * Method  samples up to 10 mm beyond `alone` count by how well the middle of the lumen tells where the vessel's axis is:
 *         the less, the more lumen is lost to a lesion (which may lie on one side), and the farther they lie inside
 *         the other lumens. Bend and change of bend carry a prior. docs/methods/bifurcation.md
 * Source  our own construction
 * Errors  BK_E_NOTHING too short, BK_E_LIMIT
 */
bk_status bk_axis_start_fit(const bk_lumen_limb *limb, size_t alone, double mm_per_px, bk_arena *arena,
                            bk_axis_start *out, bk_err *err) BK_MUST_CHECK;

bk_pt_px bk_axis_start_at(const bk_axis_start *start, double t);
/** Derivative by t. */
bk_pt_px bk_axis_start_slope(const bk_axis_start *start, double t);
/** Variance of either coordinate of the point at t. */
double bk_axis_start_variance(const bk_axis_start *start, double t);

/** Diameter [px] with which a limb enters the core: the widest within 1.5 mm of sample `alone`. */
double bk_axis_start_diameter(const bk_lumen_limb *limb, size_t alone, double mm_per_px);

#endif
