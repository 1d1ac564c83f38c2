/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The steps of a technique in their order, and what each leaves the side branch exposed to.
 * docs/methods/steps.md */
#ifndef BK_CORE_PLAN_STEPS_H
#define BK_CORE_PLAN_STEPS_H

#include "base/evidence.h"
#include "core/plan/devices.h"

typedef enum bk_step_id {
    BK_STEP_WIRE_MAIN,
    BK_STEP_WIRE_SIDE,
    BK_STEP_PREDILATE,
    BK_STEP_STENT_MAIN,
    BK_STEP_STENT_SIDE_FIRST, /* crush: protrudes into the main vessel */
    BK_STEP_CLEAR_SIDE,       /* crush: balloon and wire out of the side branch */
    BK_STEP_CRUSH,
    BK_STEP_POT,
    BK_STEP_ANGIOGRAM,
    BK_STEP_RECROSS,
    BK_STEP_WITHDRAW_JAILED_WIRE,
    BK_STEP_SIDE_BALLOON,
    BK_STEP_KISSING,
    BK_STEP_STENT_SIDE,
    BK_STEP_RECROSS_MAIN,
    BK_STEP_KISSING_FINAL,
    BK_STEP_POT_AGAIN,
    BK_STEP_KISSING_PREDILATE,
    BK_STEP_LAY_SIDE_BALLOON,
    BK_STEP_WITHDRAW_SIDE_BALLOON,
    BK_STEP_DRUG_BALLOON,
    BK_STEP_STENT_LIMB, /* the one diseased limb */
    BK_STEP_FINISH,
    BK_STEP_IDS
} bk_step_id;
/** "wire_main", "wire_side", "predilate", ... */
extern const char *const bk_step_names[BK_STEP_IDS];

/* What lies in the side branch while a step is done. */
typedef enum bk_side_wire { BK_SIDE_BARE, BK_SIDE_WIRED, BK_SIDE_JAILED, BK_SIDE_RECROSSED } bk_side_wire;

typedef struct bk_step {
    bk_step_id id;
    bool if_needed;     /* only when the angiogram after the main stent asks for more */
    bk_use uses[2];     /* sized devices; BK_USES: none */
    bool inflates_main; /* a balloon or stent is opened in the main vessel */
    bk_side_wire
        side;     /* while it is done; for steps that are always done, as if the angiogram had said stop */
    bool exposed; /* inflates_main with nothing in the side branch */
} bk_step;

/* When the jailed wire leaves: three habits, the first is the default (evidence row wire_leaves_last). */
typedef enum bk_wire_leaves {
    BK_LEAVES_LAST,
    BK_LEAVES_BEFORE_POT,
    BK_LEAVES_BEFORE_HIGH_PRESSURE,
    BK_WIRE_HABITS
} bk_wire_leaves;

#define BK_STEPS_MAX 20

/**
 * The steps of a strategy. Returns how many; 0: no order was read for it, which is not the same as none.
 *
 * Under a habit that takes the wire out early the branch is bare from then on until it is re-crossed.
 * Source: evidence row *order_row (NULL when 0 is returned).
 */
size_t bk_steps_plan(enum bk_strategy strategy, bk_wire_leaves leaves, bk_step out[BK_STEPS_MAX],
                     const char **order_row);

#endif
