/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The strategies side by side: conditions met or not, what each needs. Laid out in an order, not chosen.
   docs/methods/strategies.md */
#ifndef BK_CORE_PLAN_OPTIONS_H
#define BK_CORE_PLAN_OPTIONS_H

#include "core/plan/steps.h"
#include "core/risk/protect.h"

#define BK_CONDITIONS_MAX 4
#define BK_OPTION_ROWS_MAX 8

typedef struct bk_condition {
    const char *id;
    const bk_evidence *row; /* where it comes from; its value is the line unless it is a fact */
    bk_test test;
    bool complex; /* it is the verdict of DEFINITION and no test */
    bk_tri met;
    double value; /* NaN when not known */
    bool at_least;
    double certainty_pct; /* bk_tests_certainty; NaN: cannot be said */
} bk_condition;

typedef struct bk_kit {
    int steps, recrossings;
    int wires; /* the most at one time */
    int balloons, stents;
} bk_kit;

typedef struct bk_option {
    enum bk_strategy strategy;
    const char *name;
    bk_condition conditions[BK_CONDITIONS_MAX];
    size_t n;
    bk_tri fits;
    bool steps_known; /* false: no order of steps was read, so neither kit nor steps can be said */
    bk_kit always;    /* what is used when the angiogram says stop */
    bk_kit all;       /* with everything that may be asked for */
    const bk_evidence *guide;                           /* its value: the French size; NULL: not read */
    const char *for_rows[BK_OPTION_ROWS_MAX + 1];       /* ids, ended by NULL */
    const char *against_rows[BK_OPTION_ROWS_MAX + 1];
} bk_option;

#define BK_OPTIONS (BK_STRATEGIES - 1)

/**
 * All strategies, most fitting first.
 *
 * fits   yes: every condition is met, and one of them at least was read in its source; no: a condition that was
 *        read is not met; else unknown. What is not verified decides nothing alone.
 * Order  yes before unknown before no; then the number of conditions met less those not met; then the order of
 *        the ids. A choice of this project, to show something first.
 * Source evidence rows named in options.c
 */
void bk_options_of(const bk_risk_inputs *inputs, bk_sampling sampling, const bk_evidence_set *evidence,
                   bk_option out[BK_OPTIONS]);

/** The strategy that devices and steps follow: the one decided on, else the first option that can be sized (with or
    without a wire when the decision says so). */
enum bk_strategy bk_options_in_view(const bk_case *c, const bk_facts *facts, const bk_evidence_set *evidence);

/* Which comparison of core/risk/protect.h tells of a strategy, and by which arm. */
typedef struct bk_loss_arm {
    enum bk_strategy strategy;
    const char *comparison;
    bool first; /* arm a */
} bk_loss_arm;
extern const bk_loss_arm bk_loss_arms[]; /* ends with comparison NULL */

#endif
