/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Is a line reached? Yes, no or unknown by the best values; how certain that is, and how stable a whole set of
   such answers, by drawing the inputs again. docs/methods/protect.md */
#ifndef BK_CORE_RISK_TESTS_H
#define BK_CORE_RISK_TESTS_H

#include "base/random.h"
#include "core/risk/inputs.h"

typedef enum bk_relation { BK_AT_LEAST, BK_ABOVE, BK_AT_MOST, BK_BELOW, BK_IS /* a fact, no line */ } bk_relation;

typedef struct bk_test {
    bk_relation relation;
    bk_risk_quantity quantity; /* unless BK_IS */
    bk_risk_fact fact;         /* for BK_IS */
    double threshold;          /* unit of the quantity; NaN for BK_IS */
} bk_test;

/** yes: all of the span is on that side of the line; no: none of it; unknown: it lies across. */
bk_tri bk_test_met(const bk_test *test, const bk_risk_inputs *inputs, const bk_span spans[BK_RISK_INPUTS]);

/**
 * The best value of the quantity a test looks at; NaN when nothing is known of it. *at_least: only its lower end
 * is known.
 */
double bk_test_value(const bk_test *test, const bk_span spans[BK_RISK_INPUTS], bool *at_least);

/**
 * Can the certainty of a test be said? Not for facts, for unknown answers, nor when an input has no SD: then
 * *without_sd is the first such input (BK_RISK_INPUTS: it is for another reason).
 */
bool bk_test_has_certainty(const bk_test *test, const bk_risk_inputs *inputs, bk_risk_input *without_sd);

/* Which random numbers are drawn. */
typedef struct bk_sampling {
    int n; /* at least 1 */
    uint64_t seed;
} bk_sampling;

typedef struct bk_stability {
    double stable_pct;      /* share of draws in which every test answers as displayed; NaN: none has a certainty */
    bk_risk_input decisive; /* the input which, known exactly, would raise that share most; BK_RISK_INPUTS: none */
    double decisive_pct;    /* the share it would then be; NaN when there is none */
} bk_stability;

/**
 * Draw the inputs n times.
 *
 * certainty_pct  one a test: share of draws in which the line is reached, whatever is displayed; NaN where
 *                bk_test_has_certainty says no. It is about the measurement, not about the branch.
 * Method         Gaussian errors, independent but for the scale, which is one factor for all lengths and
 *                diameters taken off the picture: x' = (x + sd z)(1 + scale z_s). Inputs without SD stay.
 *                Stability is over the tests that have a certainty. For the decisive input each input in turn
 *                is held at its best value, with the same random numbers.
 * Source         our own construction; checked against the normal distribution
 */
bk_stability bk_tests_sample(const bk_test *tests, size_t tests_n, const bk_risk_inputs *inputs,
                             bk_sampling sampling, double certainty_pct[]);
#define BK_TESTS_MAX 16

#endif
