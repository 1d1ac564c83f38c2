/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sizes from intravascular imaging, beside those from the angiogram; and when imaging is asked for.
 * docs/methods/sizing.md */
#ifndef BK_CORE_PLAN_IMAGING_SIZE_H
#define BK_CORE_PLAN_IMAGING_SIZE_H

#include "core/plan/devices.h"

enum bk_imaging_mode { BK_IMAGING_NOT_SAID, BK_OCT, BK_IVUS };

typedef struct bk_imaging_size {
    int mode;                   /* enum bk_imaging_mode; BK_IMAGING_NOT_SAID: nothing entered for this limb */
    double lumen_mm, vessel_mm; /* diameters of the reference's areas; NaN: area not entered */
    double by_lumen_mm, by_vessel_mm; /* nominal sizes: lumen rounded up, vessel rounded down; NaN */
} bk_imaging_size;

/**
 * Size of a limb by its newest imaging entry before stenting (stage baseline, predilated or not said).
 * Method  diameter of the circle of the area, 2 sqrt(A/pi); vessel rounded down, lumen up, to size_step
 * Source  evidence rows imaging_by_vessel, imaging_by_lumen (both from memory: never used alone)
 */
bk_imaging_size bk_imaging_size_of(const bk_list *imaging, enum bk_limb limb,
                                   const bk_evidence_set *evidence);

/* Calcium that asks for something before the stent. */
typedef struct bk_calcium_triggers {
    bk_tri angiography, oct, ivus; /* met? unknown: not entered */
    double oct_score, ivus_score;  /* highest entered before stenting; NaN: none */
} bk_calcium_triggers;

/** Source: evidence rows calcium_angiography, calcium_oct_modify, calcium_ivus_modify. */
bk_calcium_triggers bk_calcium_triggers_of(int calcium, const bk_list *imaging,
                                           const bk_evidence_set *evidence);

/** Is it a true bifurcation (side branch, and proximal or distal main vessel, stenosed by threshold_pct and
 * more)? */
bk_tri bk_true_bifurcation(const bk_facts *facts, double threshold_pct);

#endif
