/* SPDX-License-Identifier: GPL-3.0-or-later */
/* FFR and flow of the three limbs before treatment and after every end, with 90 % intervals by seeded samples.
   docs/methods/flow.md */
#ifndef BK_CORE_FLOW_OUTLOOK_H
#define BK_CORE_FLOW_OUTLOOK_H

#include "base/arena.h"
#include "core/flow/treat.h"

#define BK_FFR_TREAT_AT 0.80

typedef struct bk_flow_number {
    double value, low, high; /* value: at the best numbers; 90 % interval */
} bk_flow_number;

typedef struct bk_flow_limb {
    bk_flow_number ffr;        /* Pd/Pa at the far end of the limb, hyperaemia */
    bk_flow_number flow_ml_min;
    double at_most_080_pct;    /* share of samples with FFR of 0.80 or less */
} bk_flow_limb;

typedef struct bk_flow_outlook {
    bool known[BK_ENDS]; /* false: bk_end_lacks says why; and a limb only where bk_end_says so */
    bk_flow_limb limb[BK_ENDS][BK_LIMBS];
    size_t unsolved; /* sampled networks without a solution */
} bk_flow_outlook;

/**
 * Work all ends out. `outlook.limb[bk_end_of(strategy)][BK_SIDE].ffr` is the FFR of the side branch after a strategy.
 *
 * Every end sees the same draws, so differences between them are not noise. Time is linear in samples and memory is
 * six doubles a sample, given back before return.
 * Errors: of the arena only.
 */
bk_status bk_flow_outlook_of(const bk_flow_scene *scene, int samples, uint64_t seed, bk_arena *arena,
                             bk_flow_outlook *out, bk_err *err) BK_MUST_CHECK;

typedef struct bk_flow_ostium {
    int limb;                  /* the daughter that the main stent passes; BK_LIMBS: the end narrows none */
    double stenosis_pct;       /* by the cosine model */
    double ffr_oval, ffr_round; /* of that limb, read as an ellipse and as round as the views allow */
} bk_flow_ostium;

/** The band that the shape of a shifted ostium makes, everything else at its best value. The end must be known. */
bk_flow_ostium bk_flow_ostium_of(const bk_flow_scene *scene, bk_end end);

#endif
