/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a strategy means for the sizes: which daughter the main stent goes into, and whether the other one
   gets a stent of its own. */
#ifndef BK_CORE_PLAN_STRATEGY_H
#define BK_CORE_PLAN_STRATEGY_H

#include "core/case/case.h"

typedef struct bk_strategy_traits {
    enum bk_strategy strategy;
    enum bk_limb axis, other; /* daughter in the axis of the main stent, and the other one */
    bool second_stent;        /* the other daughter is stented too */
    bool sized;               /* false: which limb is treated does not follow from the strategy alone */
} bk_strategy_traits;

/** Traits; a strategy not said counts as provisional. Source: the contract's strategy ids. */
bk_strategy_traits bk_strategy_find(int strategy);

#endif
