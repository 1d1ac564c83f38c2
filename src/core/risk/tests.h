/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Is a line reached? Yes, no or unknown by the best values; how certain that is, and how stable a whole set
   of such answers, by drawing the inputs again. docs/methods/protect.md */
#ifndef BK_CORE_RISK_TESTS_H
#define BK_CORE_RISK_TESTS_H

#include "base/random.h"
#include "core/risk/inputs.h"

typedef enum bk_relation {
    BK_AT_LEAST,
    BK_ABOVE,
    BK_AT_MOST,
    BK_BELOW,
    BK_IS /* a fact, no line */
} bk_relation;

typedef struct bk_test {
    bk_relation relation;
    bk_risk_quantity quantity; /* unless BK_IS */
    bk_risk_fact fact;         /* for BK_IS */
    double threshold;          /* unit of the quantity; NaN for BK_IS */
} bk_test;

/** yes: all of the span is on that side of the line; no: none of it; unknown: it lies across. */
bk_tri bk_test_met(const bk_test *test, const bk_risk_inputs *inputs, const bk_span spans[BK_RISK_INPUTS]);

/**
 * The best value of the quantity a test looks at; NaN when nothing is known of it. *at_least: only its lower
 * end is known.
 */
double bk_test_value(const bk_test *test, const bk_span spans[BK_RISK_INPUTS], bool *at_least);

/**
 * Can the certainty of a test be said? Not for facts, for unknown answers, nor when an input has no SD: then
 * *without_sd is the first such input (BK_RISK_INPUTS: it is for another reason).
 */
bool bk_test_has_certainty(const bk_test *test, const bk_risk_inputs *inputs, bk_risk_input *without_sd);

/** Its own SD, without the scale: 0 for a value entered as exact, NaN when unknown. */
double bk_risk_input_sd(bk_qty q);

/* Which random numbers are drawn. */
typedef struct bk_sampling {
    int n; /* at least 1 */
    uint64_t seed;
} bk_sampling;

/**
 * Draw the inputs n times: how often each line is reached.
 *
 * certainty_pct  one a test: share of draws in which the line is reached, whatever is displayed; NaN where
 *                bk_test_has_certainty says no. It is about the measurement, not about the branch.
 * Returns        share of draws in which every test that has a certainty answers as displayed [%]; NaN: none
 *                has one
 * Method         Gaussian errors, independent but for two things: the scale, one factor for all lengths and
 *                diameters taken off the picture, x' = (x + sd z)(1 + scale z_s); and a stenosis that was worked
 *                out from the diameters of its limb, which follows them as they are drawn. Inputs without SD stay.
 * Source         our own construction; checked against the normal distribution
 */
double bk_tests_certainty(const bk_test *tests, size_t tests_n, const bk_risk_inputs *inputs,
                          bk_sampling sampling, double certainty_pct[]);

/* What can be held at its best value: an input, or the scale that all share. */
#define BK_HELD_SCALE BK_RISK_INPUTS
#define BK_HELD_NONE (BK_RISK_INPUTS + 1)

typedef struct bk_decisive {
    int held;          /* bk_risk_input, BK_HELD_SCALE, or BK_HELD_NONE: nothing would raise the share */
    double stable_pct; /* NaN when there is none */
} bk_decisive;

/**
 * The input which, known exactly, would raise the share that bk_tests_certainty returns most, and that share:
 * each input in turn is held at its best value, with the same random numbers.
 */
bk_decisive bk_tests_decisive(const bk_test *tests, size_t tests_n, const bk_risk_inputs *inputs,
                              bk_sampling sampling);
#define BK_TESTS_MAX 16

#endif
