/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the limbs meet: branch point, the axes continued to it, the core. All in px. */
#ifndef BK_CORE_ANATOMY_BRANCH_H
#define BK_CORE_ANATOMY_BRANCH_H

#include "core/anatomy/axis_start.h"
#include "core/anatomy/angles.h"
#include "core/anatomy/bifurcation.h"

typedef struct bk_branch {
    bk_pt_px point;
    bk_spread_px spread;
    double gap_px; /* RMS distance of the three continued axes from the point */
    bk_axis_start start[BK_LIMBS];
} bk_branch;

/**
 * Point nearest to the three axes continued from outside the core.
 *
 * limb: fitted, sampled outwards; alone: first sample of each beyond the other two lumens.
 * Method: least squares of the distances to the three continued axes, each over its variance at the point, iterated; spread
 *         from the same equations. Source: none, our construction of the contract's definition.
 * Errors: BK_E_NOTHING when the axes are parallel or too short; BK_E_LIMIT.
 */
bk_status bk_branch_find(const bk_lumen_limb limb[BK_LIMBS], const size_t alone[BK_LIMBS], double mm_per_px,
                         bk_arena *arena, bk_branch *out, bk_err *err) BK_MUST_CHECK;

/** The axis of one limb from the branch point outwards (arc length 0 = nearest to the branch point). */
bk_status bk_branch_axis(const bk_branch *branch, int limb, const bk_curve *axis, size_t from, double step_px,
                         bk_arena *arena, bk_curve *out, bk_err *err) BK_MUST_CHECK;

/* A limb as a tube: an axis from the branch point outwards with a diameter at each sample. */
typedef struct bk_tube {
    bk_curve axis;
    const double *diameter_px;
} bk_tube;

/** First sample from which on the scan line of a tube, widened by margin_px, touches none of the other two. */
size_t bk_tube_alone_from(const bk_tube tube[BK_LIMBS], int limb, double margin_px);

typedef struct bk_core {
    bk_pt_px centre;
    double radius_px;
    double ostium_px[BK_LIMBS]; /* arc length at which each axis leaves the circle */
    bk_pt_px carina;              /* the wall point between distal main vessel and side branch nearest to the branch point */
} bk_core;

/**
 * Largest circle around the branch point inside the union of the three tubes.
 *
 * Method: the walls are the edge points of each tube that lie in no other tube; the circle's centre is moved
 *         (pattern search, at most half its first radius) until its nearest wall point is as far as possible.
 * Source: definition in the contract (largest inscribed circle); construction our own.
 */
bk_status bk_core_find(const bk_tube tube[BK_LIMBS], bk_pt_px branch_point, bk_arena *arena, bk_core *out,
                       bk_err *err) BK_MUST_CHECK;

#endif
