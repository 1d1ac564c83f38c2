/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Laws that tie the healthy diameter of a mother vessel to those of its daughters
   (docs/methods/branching.md). All of them are scale-free: they cannot see a wrong calibration. */
#ifndef BK_CORE_ANATOMY_BRANCHING_H
#define BK_CORE_ANATOMY_BRANCHING_H

#include <stdbool.h>

#include "base/evidence.h"

/* Linear: Dm = k (D1 + D2). Power: Dm^k = D1^k + D2^k. */
typedef struct bk_branching_law {
    bool linear;
    double k;
} bk_branching_law;

/* The laws of the literature; the constants are evidence rows. */
bk_branching_law bk_law_fractal(const bk_evidence_set *evidence);    /* linear, 0.678 */
bk_branching_law bk_law_hk(const bk_evidence_set *evidence);         /* power, 7/3 */
bk_branching_law bk_law_murray(const bk_evidence_set *evidence);     /* power, 3 */
bk_branching_law bk_law_area(const bk_evidence_set *evidence);       /* power, 2 */
bk_branching_law bk_law_two_thirds(const bk_evidence_set *evidence); /* linear, 2/3: not Murray's law */

/**
 * Diameter of the mother from those of the daughters.
 *
 * Units   any one unit of length, the same for all
 * Valid   d1, d2 >= 0
 * Source  Finet 2007, Huo 2012, Murray 1926: evidence/branching.csv
 */
double bk_branching_mother(bk_branching_law law, double d1, double d2);

/**
 * Diameter of the second daughter from mother and first daughter.
 * NaN when the law leaves no room for one.
 */
double bk_branching_daughter(bk_branching_law law, double mother, double d1);

/**
 * Standard deviation of the mother from those of the daughters, taken as independent (first order).
 * Source  none: propagation of errors, dDm/dD1 = k (linear) or (D1/Dm)^(k-1) (power).
 */
double bk_branching_mother_sd(bk_branching_law law, double d1, double d2, double sd1, double sd2);

#endif
