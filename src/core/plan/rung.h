/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Of a rung of the bail-out ladder: do these devices go through the guide side by side? Rigid circles, with the
   published rule on top. */
#ifndef BK_CORE_PLAN_RUNG_H
#define BK_CORE_PLAN_RUNG_H

#include "base/evidence.h"

#define BK_RUNG_DEVICES_MAX 3

typedef enum bk_rung_verdict { BK_RUNG_FITS, BK_RUNG_TIGHT, BK_RUNG_NO } bk_rung_verdict;
/** "fits", "tight", "no". */
extern const char *const bk_rung_verdict_names[];

/**
 * Smallest inner diameter that lets one to three round devices pass at one level.
 *
 * Units   mm, all > 0
 * Method  two circles: d1 + d2. A third one in the gap beside them costs nothing when
 *         1/r3 >= 1/r1 + 1/r2 - 1/(r1 + r2); else the circle around three that touch each other (Descartes):
 *         k0 = k1 + k2 + k3 - 2 sqrt(k1 k2 + k2 k3 + k1 k3), k = 1/r, diameter 2/|k0|
 * Source  plane geometry; Descartes' circle theorem
 */
double bk_rung_needed_mm(const double diameters_mm[], int n);

/**
 * Fits with the margin of row rung_margin to spare; tight below that, and in a 6 F guide up to the band of row
 * rung_soft_band (the published rule wins over rigid circles); else no.
 */
bk_rung_verdict bk_rung_fit(int french, double needed_mm, const bk_evidence_set *evidence);

/** Inner diameter [mm]; french 6..8. */
double bk_rung_inner_mm(int french, const bk_evidence_set *evidence);

#endif
