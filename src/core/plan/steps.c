/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/steps.h"

const char *const bk_step_names[BK_STEP_IDS] = {"wire_main",
                                                "wire_side",
                                                "predilate",
                                                "stent_main",
                                                "stent_side_first",
                                                "clear_side",
                                                "crush",
                                                "pot",
                                                "angiogram",
                                                "recross",
                                                "withdraw_jailed_wire",
                                                "side_balloon",
                                                "kissing",
                                                "stent_side",
                                                "recross_main",
                                                "kissing_final",
                                                "pot_again",
                                                "kissing_predilate",
                                                "lay_side_balloon",
                                                "withdraw_side_balloon",
                                                "drug_balloon",
                                                "stent_limb",
                                                "finish"};

#define STEPS(...)                                                                                           \
    {                                                                                                        \
        __VA_ARGS__, BK_STEP_IDS                                                                             \
    }
#define OPEN BK_STEP_WIRE_MAIN, BK_STEP_WIRE_SIDE, BK_STEP_PREDILATE
#define MAIN_FIRST OPEN, BK_STEP_STENT_MAIN, BK_STEP_POT
#define REACH_SIDE BK_STEP_RECROSS, BK_STEP_WITHDRAW_JAILED_WIRE

typedef struct technique {
    const char *row;
    bk_step_id ids[BK_STEPS_MAX];
} technique;

static const technique techniques[BK_STRATEGIES] = {
    [BK_PROVISIONAL] = {BK_EVIDENCE("steps_provisional"),
                        STEPS(BK_STEP_WIRE_MAIN, BK_STEP_PREDILATE, BK_STEP_STENT_MAIN, BK_STEP_POT,
                              BK_STEP_ANGIOGRAM, BK_STEP_RECROSS, BK_STEP_KISSING, BK_STEP_POT_AGAIN,
                              BK_STEP_FINISH)},
    [BK_PROVISIONAL_WIRE] = {BK_EVIDENCE("steps_provisional"),
                             STEPS(MAIN_FIRST, BK_STEP_ANGIOGRAM, REACH_SIDE, BK_STEP_KISSING,
                                   BK_STEP_POT_AGAIN, BK_STEP_FINISH)},
    [BK_JAILED_BALLOON] = {BK_EVIDENCE("steps_jailed_balloon_order"),
                           STEPS(OPEN, BK_STEP_LAY_SIDE_BALLOON, BK_STEP_STENT_MAIN, BK_STEP_WITHDRAW_SIDE_BALLOON,
                                 BK_STEP_POT, BK_STEP_ANGIOGRAM, REACH_SIDE, BK_STEP_KISSING, BK_STEP_POT_AGAIN,
                                 BK_STEP_FINISH)},
    [BK_KISSING_PREDILATATION] = {BK_EVIDENCE("steps_kissing_predilatation"),
                                  STEPS(BK_STEP_WIRE_MAIN, BK_STEP_WIRE_SIDE, BK_STEP_KISSING_PREDILATE,
                                        BK_STEP_STENT_MAIN, BK_STEP_POT, BK_STEP_ANGIOGRAM, REACH_SIDE,
                                        BK_STEP_KISSING, BK_STEP_POT_AGAIN, BK_STEP_FINISH)},
    [BK_INVERTED] = {BK_EVIDENCE("steps_inverted"), STEPS(MAIN_FIRST, BK_STEP_ANGIOGRAM, REACH_SIDE, BK_STEP_KISSING,
                                                          BK_STEP_POT_AGAIN, BK_STEP_FINISH)},
    [BK_SINGLE_LIMB] = {BK_EVIDENCE("steps_single_limb"),
                        STEPS(OPEN, BK_STEP_STENT_LIMB, BK_STEP_ANGIOGRAM, BK_STEP_FINISH)},
    [BK_DCB_SIDE] = {BK_EVIDENCE("steps_dcb_side"), STEPS(MAIN_FIRST, REACH_SIDE, BK_STEP_KISSING, BK_STEP_DRUG_BALLOON,
                                                          BK_STEP_POT_AGAIN, BK_STEP_FINISH)},
    [BK_T] = {BK_EVIDENCE("steps_t"),
              STEPS(MAIN_FIRST, BK_STEP_ANGIOGRAM, REACH_SIDE, BK_STEP_KISSING, BK_STEP_STENT_SIDE,
                    BK_STEP_KISSING_FINAL, BK_STEP_POT_AGAIN, BK_STEP_FINISH)},
    [BK_TAP] = {BK_EVIDENCE("steps_tap"), STEPS(MAIN_FIRST, REACH_SIDE, BK_STEP_KISSING, BK_STEP_STENT_SIDE,
                                                BK_STEP_KISSING_FINAL, BK_STEP_POT_AGAIN, BK_STEP_FINISH)},
    [BK_CULOTTE] = {BK_EVIDENCE("steps_culotte"),
                    STEPS(MAIN_FIRST, REACH_SIDE, BK_STEP_KISSING, BK_STEP_STENT_SIDE, BK_STEP_POT_AGAIN,
                          BK_STEP_RECROSS_MAIN, BK_STEP_KISSING_FINAL, BK_STEP_POT_AGAIN, BK_STEP_FINISH)},
    [BK_DK_CRUSH] = {BK_EVIDENCE("steps_dk_crush"),
                     STEPS(OPEN, BK_STEP_STENT_SIDE_FIRST, BK_STEP_CLEAR_SIDE, BK_STEP_CRUSH, BK_STEP_RECROSS,
                           BK_STEP_SIDE_BALLOON, BK_STEP_KISSING, BK_STEP_STENT_MAIN, BK_STEP_POT, REACH_SIDE,
                           BK_STEP_SIDE_BALLOON, BK_STEP_KISSING_FINAL, BK_STEP_POT_AGAIN, BK_STEP_FINISH)},
};

typedef struct nature {
    bool inflates_main;
    bk_use uses[2];
} nature;

#define NONE                                                                                                 \
    {                                                                                                        \
        BK_USES, BK_USES                                                                                     \
    }
static const nature natures[BK_STEP_IDS] = {
    [BK_STEP_WIRE_MAIN] = {false, NONE},
    [BK_STEP_WIRE_SIDE] = {false, NONE},
    [BK_STEP_PREDILATE] = {true, {BK_USE_PREDILATATION, BK_USES}},
    [BK_STEP_STENT_MAIN] = {true, {BK_USE_MAIN_STENT, BK_USES}},
    [BK_STEP_STENT_SIDE_FIRST] = {false, {BK_USE_SIDE_STENT, BK_USES}},
    [BK_STEP_CLEAR_SIDE] = {false, NONE},
    [BK_STEP_CRUSH] = {true, {BK_USE_POT_BALLOON, BK_USES}},
    [BK_STEP_POT] = {true, {BK_USE_POT_BALLOON, BK_USES}},
    [BK_STEP_ANGIOGRAM] = {false, NONE},
    [BK_STEP_RECROSS] = {false, NONE},
    [BK_STEP_WITHDRAW_JAILED_WIRE] = {false, NONE},
    [BK_STEP_SIDE_BALLOON] = {false, {BK_USE_SIDE_BALLOON, BK_USES}},
    [BK_STEP_KISSING] = {true, {BK_USE_KISSING_MAIN, BK_USE_KISSING_SIDE}},
    [BK_STEP_STENT_SIDE] = {false, {BK_USE_SIDE_STENT, BK_USES}},
    [BK_STEP_RECROSS_MAIN] = {false, NONE},
    [BK_STEP_KISSING_FINAL] = {true, {BK_USE_KISSING_MAIN, BK_USE_KISSING_SIDE}},
    [BK_STEP_POT_AGAIN] = {true, {BK_USE_POT_BALLOON, BK_USES}},
    [BK_STEP_KISSING_PREDILATE] = {true, NONE},
    [BK_STEP_LAY_SIDE_BALLOON] = {false, NONE},
    [BK_STEP_WITHDRAW_SIDE_BALLOON] = {false, NONE},
    [BK_STEP_DRUG_BALLOON] = {false, NONE},
    [BK_STEP_STENT_LIMB] = {true, NONE},
    [BK_STEP_FINISH] = {false, NONE},
};

/* What lies in the side branch once a step is done. */
static bk_side_wire after(bk_step_id id, bk_side_wire side)
{
    switch (id) {
    case BK_STEP_WIRE_SIDE:
        return BK_SIDE_WIRED;
    case BK_STEP_CLEAR_SIDE:
        return BK_SIDE_BARE;
    case BK_STEP_STENT_MAIN:
        return side == BK_SIDE_WIRED || side == BK_SIDE_RECROSSED ? BK_SIDE_JAILED : side;
    case BK_STEP_RECROSS:
        return BK_SIDE_RECROSSED;
    case BK_STEP_WITHDRAW_JAILED_WIRE:
        return side == BK_SIDE_JAILED ? BK_SIDE_BARE : side;
    case BK_STEP_FINISH:
        return BK_SIDE_BARE;
    case BK_STEP_WIRE_MAIN:
    case BK_STEP_PREDILATE:
    case BK_STEP_STENT_SIDE_FIRST:
    case BK_STEP_CRUSH:
    case BK_STEP_POT:
    case BK_STEP_ANGIOGRAM:
    case BK_STEP_SIDE_BALLOON:
    case BK_STEP_KISSING:
    case BK_STEP_STENT_SIDE:
    case BK_STEP_RECROSS_MAIN:
    case BK_STEP_KISSING_FINAL:
    case BK_STEP_POT_AGAIN:
    case BK_STEP_KISSING_PREDILATE:
    case BK_STEP_LAY_SIDE_BALLOON:
    case BK_STEP_WITHDRAW_SIDE_BALLOON:
    case BK_STEP_DRUG_BALLOON:
    case BK_STEP_STENT_LIMB: /* a wire beside the stent of a limb that ends at the carina is not jailed */
    case BK_STEP_IDS:
        break;
    }
    return side;
}

/* Behind the angiogram of provisional stenting everything but the way out depends on it. */
static bool asked_for(bk_step_id id)
{
    return id != BK_STEP_WITHDRAW_JAILED_WIRE && id != BK_STEP_FINISH;
}

size_t bk_steps_plan(enum bk_strategy strategy, bk_wire_leaves leaves, bk_step out[BK_STEPS_MAX],
                     const char **order_row)
{
    const technique *order = &techniques[strategy];
    const bool stop_possible = strategy >= BK_PROVISIONAL && strategy <= BK_INVERTED;
    const bool early = leaves != BK_LEAVES_LAST && strategy != BK_DK_CRUSH;
    bk_side_wire side = BK_SIDE_BARE,
                 stopped = BK_SIDE_BARE; /* on the way on, and where the angiogram says stop */
    bool past_angiogram = false;
    size_t n = 0;
    *order_row = order->row;
    if (!order->row)
        return 0;
    for (const bk_step_id *id = order->ids; *id != BK_STEP_IDS; id++) {
        const bk_step_id before = BK_STEP_WITHDRAW_JAILED_WIRE;
        if (early && *id == BK_STEP_POT && side == BK_SIDE_JAILED) {
            out[n++] = (bk_step){before, false, {BK_USES, BK_USES}, false, side, false};
            side = stopped = BK_SIDE_BARE;
        } else if (early && *id == before) {
            continue; // has left already
        }
        const bool if_needed = stop_possible && past_angiogram && asked_for(*id);
        const bk_side_wire now = if_needed ? side : stopped;
        out[n++] = (bk_step){.id = *id,
                             .if_needed = if_needed,
                             .uses = {natures[*id].uses[0], natures[*id].uses[1]},
                             .inflates_main = natures[*id].inflates_main,
                             .side = now,
                             .exposed = natures[*id].inflates_main && now == BK_SIDE_BARE};
        side = after(*id, side);
        stopped = if_needed ? stopped : after(*id, stopped);
        past_angiogram = past_angiogram || *id == BK_STEP_ANGIOGRAM;
    }
    return n;
}
