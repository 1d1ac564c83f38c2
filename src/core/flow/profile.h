/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Steady laminar flow along a tube of changing width, by the balances of momentum and of mechanical energy for
   a family of velocity profiles with one parameter, the momentum factor beta = mean(u^2) / V^2: 1 plug, 4/3
   parabola, above it a jet in dead water. SI units. docs/methods/flow.md */
#ifndef BK_CORE_FLOW_PROFILE_H
#define BK_CORE_FLOW_PROFILE_H

#include <stddef.h>

#include "core/flow/laws.h"

typedef struct bk_profile {
    double flow;   /* m3/s, > 0 */
    double excess; /* beta - 1, > 0 */
    double drop;   /* static pressure lost since the start [Pa] */
} bk_profile;

/** A parabola that has lost nothing yet. */
bk_profile bk_profile_developed(double flow);

/**
 * Go on through a cone from diameter `from` to `to` [m] of length >= 0 [m], n flows side by side.
 *
 * Method  d(beta) = F d(ln A) + (2 pi mu / rho Q) G dx, dp by momentum. F carries the profile without friction,
 *         u ~ (1 - r^2)^k; G is what shear and dissipation make of it: anchored in Blasius' layer for the plug,
 *         exact for the parabola, and read from the velocity profiles of validation/openfoam for the jet.
 *         The steeper the wall recedes, the less of the profile follows it; a jet from a step goes unchanged.
 * Range   laminar; lengths of several diameters. No turbulence, no vena contracta behind a sharp edge.
 */
void bk_profile_pass(bk_profile *profile, size_t n, bk_blood blood, double from, double to, double length);

#endif
