/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Should the side branch be protected: the published rules, met or not and how certainly, how stable that
   picture is, and the published comparisons of arms. docs/methods/protect.md */
#ifndef BK_CORE_RISK_PROTECT_H
#define BK_CORE_RISK_PROTECT_H

#include "core/risk/proportion.h"
#include "core/risk/tests.h"

#define BK_PROTECT_RULES 8

typedef struct bk_protect_rule {
    const char *id;
    const bk_evidence *row; /* where the rule comes from; its value is the line unless it is a fact */
    bk_test test;
    double line;
    bk_tri met;
    double value; /* NaN when not known */
    bool at_least;
    double certainty_pct;     /* share of draws in which the line is reached; NaN: cannot be said */
    bk_risk_input without_sd; /* why not: this input has no SD; BK_RISK_INPUTS: for another reason */
} bk_protect_rule;

typedef struct bk_protect {
    bk_protect_rule rules[BK_PROTECT_RULES];
    double stable_pct; /* bk_tests_certainty */
    bk_decisive decisive;
} bk_protect;

/** Rules in the order of the contract. Source: evidence rows named in protect.c. */
bk_protect bk_protect_rules(const bk_risk_inputs *inputs, bk_sampling sampling,
                            const bk_evidence_set *evidence);

/* This case among the strata: main and side stenosis. */
typedef struct bk_stenosis_place {
    bk_proportion main, side; /* value and 90 % interval, cut at 0 and 100; NaN: not known, or no SD */
    bool main_at_least;       /* a part of the main vessel is not known */
} bk_stenosis_place;

/**
 * Where the case lies in a picture of main against side stenosis. The interval of the main vessel is that of
 * its tightest known part.
 */
bk_stenosis_place bk_protect_place(const bk_risk_inputs *inputs);

typedef struct bk_comparison {
    const char *id, *arm_a, *arm_b, *design;
    const char *a_row, *b_row;                 /* rows of the two rates; NULL: only a ratio was published */
    const char *a_lesions_row, *b_lesions_row; /* NULL: no denominator of the arm, so no interval */
    const char *odds_row;                      /* row of an odds ratio, NULL: none */
    const char *rule_id; /* rule of bk_protect whose answer decides who belongs to it; NULL: none */
    bool not_left_main;  /* the left main was left out */
    bool small_side;     /* side branches of the range of rows jailed_small_low and _high only */
} bk_comparison;

/** Published comparisons, dissent among them; the last has id NULL. */
extern const bk_comparison bk_comparisons[];

/** The rule's answer on the comparison's stratum; unknown where it has none. */
bk_tri bk_comparison_stratum(const bk_comparison *comparison, const bk_protect *protect);

/** Does the case belong to the population compared, as far as this can be told? A score that is not computed
    leaves it unknown. */
bk_tri bk_comparison_belongs(const bk_comparison *comparison, const bk_protect *protect,
                             const bk_risk_inputs *inputs, const bk_evidence_set *evidence);

#endif
