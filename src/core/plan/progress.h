/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a procedure stands, told by its events alone: which wires lie where, what is jailed, what was opened. */
#ifndef BK_CORE_PLAN_PROGRESS_H
#define BK_CORE_PLAN_PROGRESS_H

#include "core/plan/events.h"
#include "core/plan/strategy.h"

typedef enum bk_phase { BK_PHASE_CALM, BK_PHASE_INFLATED, BK_PHASE_RECROSSING } bk_phase;

/* Why something will still be inflated in the main vessel. */
typedef enum bk_to_come {
    BK_NOTHING_TO_COME,
    BK_STENT_TO_COME,       /* no main stent yet */
    BK_POT_TO_COME,         /* none since the last main stent */
    BK_POT_AGAIN_TO_COME,   /* none since the kissing balloons */
    BK_SECOND_STENT_TO_COME /* the strategy has two, one is in */
} bk_to_come;
extern const char *const bk_to_come_words[]; /* for people */

typedef struct bk_progress {
    int main_wires, main_jailed;                /* in the main vessel */
    int side_wires, side_jailed, side_through;  /* free, under struts, through a cell */
    bool jailed_balloon;
    int main_stents, side_stents, crossing_stents; /* the last: layers over the mouth of the side branch */
    double main_stent_mm, biggest_main_mm; /* nominal of the last main stent; of what was inflated in it since. NaN: none */
    bool pot_since_stent, pot_since_kissing, kissed;
    bool kit_ready, main_done, side_done;
    bk_phase phase;
    int timi[BK_LIMBS]; /* -1: not said */
    size_t events;      /* counted */
} bk_progress;

bk_progress bk_progress_start(void);

/** Take in one event; impossible ones (a wire out that was never in) leave the counts at 0. */
void bk_progress_take(bk_progress *p, const bk_event *event, const bk_strategy_traits *strategy);

/** What is still to be inflated in the main vessel, by the events and the strategy; main_done ends it. */
bk_to_come bk_progress_to_come(const bk_progress *p, const bk_strategy_traits *strategy);

#endif
