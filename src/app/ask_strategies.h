/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by the two files of `ask strategies`. */
#ifndef BK_APP_ASK_STRATEGIES_H
#define BK_APP_ASK_STRATEGIES_H

#include "app/ask_branch.h"
#include "core/plan/options.h"

/* What all options see alike. */
typedef struct bk_strategies_setting {
    const bk_asked *asked;
    const bk_risk_inputs *inputs;
    const bk_protect *protect;
    const bk_json *outlook; /* flow */
    bk_answer *answer;
} bk_strategies_setting;

/** Arms of the comparisons that tell of a strategy, each with whom it was counted in. */
bk_json *bk_strategies_loss(enum bk_strategy strategy, const bk_strategies_setting *s);
/** Both daughters before and after; null when flow says neither. */
bk_json *bk_strategies_ffr(enum bk_strategy strategy, const bk_strategies_setting *s);
/** Evidence rows as they stand; ids, ended by NULL. */
bk_json *bk_strategies_rows(const char *const rows[], bk_answer *answer);

#endif
