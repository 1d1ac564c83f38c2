/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Angles between the limbs as projected: between chords from the branch point to 8 mm along each axis. */
#ifndef BK_CORE_ANATOMY_ANGLES_H
#define BK_CORE_ANATOMY_ANGLES_H

#include "core/anatomy/bifurcation.h"

#define BK_ANGLE_CHORD_MM 8.0

/* Covariance of a point, px^2. */
typedef struct bk_spread_px {
    double xx, xy, yy;
} bk_spread_px;

/**
 * Angle at the branch point between the chords to axis[a] and axis[b], degrees 0..180, origin projected.
 *
 * axis: from the branch point outwards; chord_px: 8 mm, or less where an axis ends earlier. spread: of the branch
 * point; the SD of the angle follows from it and from 0.1 px at the far end of each chord.
 */
bk_qty bk_projected_angle(const bk_curve *a, const bk_curve *b, bk_pt_px branch_point, double chord_px,
                          const bk_spread_px *spread);

/** The point of a curve at an arc length (linear in between), its last point when it ends earlier. */
bk_pt_px bk_curve_point(const bk_curve *curve, double s_px);

#endif
