/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The strategies as constant data: conditions, guide, and the evidence rows for and against each. */
#ifndef BK_CORE_PLAN_OPTIONS_CATALOGUE_H
#define BK_CORE_PLAN_OPTIONS_CATALOGUE_H

#include "core/plan/options.h"

typedef struct bk_condition_entry {
    const char *id, *row;
    bk_relation relation;
    int what; /* bk_risk_quantity, or bk_risk_fact for BK_IS */
    bool complex;
} bk_condition_entry;

typedef struct bk_option_entry {
    const char *name, *guide_row;
    bk_condition_entry conditions[BK_CONDITIONS_MAX + 1]; /* ends with an empty one */
    const char *for_rows[BK_OPTION_ROWS_MAX + 1], *against_rows[BK_OPTION_ROWS_MAX + 1];
} bk_option_entry;

extern const bk_option_entry bk_option_catalogue[BK_STRATEGIES]; /* entry BK_STRATEGY_NOT_SAID is empty */

#endif
