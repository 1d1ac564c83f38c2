/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The guide at every moment of a strategy. docs/methods/fit.md */
#ifndef BK_CORE_PLAN_GUIDE_STATES_H
#define BK_CORE_PLAN_GUIDE_STATES_H

#include "core/plan/choose.h"

#define BK_GUIDE_FROM 5 /* French */
#define BK_GUIDE_TO 8
#define BK_GUIDES (BK_GUIDE_TO - BK_GUIDE_FROM + 1)
#define BK_GUIDE_DEVICES 3
#define BK_GUIDE_STATES 12

typedef struct bk_guide_state {
    const char *moment;
    const char *device[BK_GUIDE_DEVICES]; /* in words */
    bk_profile profile[BK_GUIDE_DEVICES];
    size_t n;
    bool if_needed;        /* bail-out or a variant: does not decide the size of the guide */
    bk_fit fit[BK_GUIDES]; /* in 5, 6, 7, 8 F */
} bk_guide_state;

typedef struct bk_guide_extension {
    int french;
    double inner_mm;
    bk_fit stent, kissing; /* the main stent beside the side wire; the kissing pair */
} bk_guide_extension;
#define BK_EXTENSIONS 3

typedef struct bk_guide {
    double inner_mm[BK_GUIDES]; /* of the lab's own guide where its list has one, else generic */
    bool in_stock[BK_GUIDES];
    bk_guide_state states[BK_GUIDE_STATES];
    size_t n;
    int french; /* smallest from 6 F in which no planned state is "no"; 0: none up to 8 F */
    bk_guide_extension extension[BK_EXTENSIONS]; /* 6, 7, 8 F */
    double exchange_cm;                          /* wire needed to exchange an over-the-wire catheter */
    double catheter_cm;                          /* length of the catheter taken for it */
    double longest_cm;                           /* longest wire of the list; NaN: none */
    double standard_cm;                          /* standard wire */
} bk_guide;

/**
 * Every state of a strategy in guides of 5 to 8 F. Profiles are those of the designs chosen, else of their
 * kind. Wire for an exchange: guide + wire beyond its tip + catheter + what is held. Sources:
 * evidence/fit.csv.
 */
bk_guide bk_guide_plan(enum bk_strategy strategy, const bk_chosen *chosen, const bk_stock *stock,
                       const bk_evidence_set *evidence);

#endif
