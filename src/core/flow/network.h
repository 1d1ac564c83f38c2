/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Aorta, proximal main vessel, two daughters, and the beds behind them: the flows at which every pressure
   fits. docs/methods/flow.md */
#ifndef BK_CORE_FLOW_NETWORK_H
#define BK_CORE_FLOW_NETWORK_H

#include "core/flow/loss.h"
#include "core/limb.h"

typedef struct bk_network {
    bk_blood blood;
    double aortic_pa, venous_pa;
    bk_limb_loss limb[BK_LIMBS];
    double bed[BK_LIMBS];        /* Pa per m3/s behind the daughters; entry BK_PROXIMAL unused */
    double collateral[BK_LIMBS]; /* Pa per m3/s from the aorta to each daughter's bed; 0: none */
} bk_network;

typedef struct bk_network_state {
    double flow[BK_LIMBS]; /* m3/s through each limb, below 0: pushed back by collaterals; the bed gets their share besides */
    double end_pa[BK_LIMBS]; /* pressure at the far end of each limb */
    int rounds;
    bool solved;
} bk_network_state;

/** Bed behind a limb that would carry this flow [m3/s] without any epicardial loss. */
double bk_bed_of(double aortic_pa, double venous_pa, double flow);

/**
 * Solve. The equations are the gradient of a convex function of the two flows (losses rise with flow), so
 * Newton's method with step control finds the one solution. An occluded limb carries 0; its end has the
 * wedge pressure of its collaterals, or the venous pressure.
 * solved: false only when 60 rounds did not bring the pressures within 1 Pa.
 */
bk_network_state bk_network_solve(const bk_network *network);

#endif
