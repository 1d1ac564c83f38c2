/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The outline of the lumen near the branch as one view shows it: the core and the carina, from the geometry.
 */
#ifndef BK_PHANTOM_OUTLINE_H
#define BK_PHANTOM_OUTLINE_H

#include "phantom/carm.h"
#include "phantom/path.h"

typedef struct ph_core {
    ph_px centre_px;
    double radius_mm; /* at the depth of the branch */
} ph_core;

/**
 * Largest circle inside the outline near the branch: it touches both outer walls and the carina. In a narrow
 * fork it lies beyond the branch point, towards the carina. 0.02 mm of radius are given up for 1 mm nearer to
 * the branch.
 *
 * Method: outline = zero line of the least level along each ray, on a 0.15 mm grid, as straight segments
 * between interpolated crossings; the circle's radius is the distance to the nearest of them. Good to about
 * 0.01 mm.
 */
ph_core ph_outline_core(const ph_bundle *lumen, const ph_carm *carm, ph_vec branch);

/** Tip of the wall between two limbs that leave the branch towards points a and b: the place nearest to the
   branch where a line from it, within the angle between them, leaves the lumen. */
ph_px ph_outline_carina(const ph_bundle *lumen, const ph_carm *carm, ph_vec branch, ph_px a, ph_px b);

#endif
