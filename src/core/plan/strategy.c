/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/strategy.h"

bk_strategy_traits bk_strategy_find(int strategy)
{
    bk_strategy_traits out = {(enum bk_strategy)strategy, BK_DISTAL, BK_SIDE, false, true};
    if (strategy <= BK_STRATEGY_NOT_SAID || strategy >= BK_STRATEGIES)
        out.strategy = BK_PROVISIONAL;
    if (strategy == BK_INVERTED) {
        out.axis = BK_SIDE;
        out.other = BK_DISTAL;
    }
    out.second_stent = strategy >= BK_T && strategy <= BK_DK_CRUSH;
    out.sized = strategy != BK_SINGLE_LIMB;
    return out;
}
