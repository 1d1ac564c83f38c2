/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Published models and strata of side branch loss, and the complexity definitions, each on its own: nothing
   is blended. Which factors this case has, whether the model was made for such a case, and what was published
   for it. docs/methods/risk.md */
#ifndef BK_CORE_RISK_MODELS_H
#define BK_CORE_RISK_MODELS_H

#include "core/risk/proportion.h"
#include "core/risk/tests.h"

#define BK_FACTORS_MAX 12

typedef struct bk_factor {
    const char *id;
    bk_test test;
    const char *line_row; /* evidence row of the threshold, NULL for facts */
    const char *odds_row; /* evidence row of its odds ratio, NULL: none was published */
    bool per_unit;        /* the odds ratio is for each unit of the quantity; present: more than 0 */
    bk_tri present;
    double value; /* best value of the quantity, NaN when not known */
    bool at_least;
    double certainty_pct; /* bk_tests_certainty */
} bk_factor;

typedef struct bk_risk_model {
    const char *id;
    const bk_evidence *head; /* row with population, end point and standing */
    bool applies;
    const char *why_not; /* "" when it applies */
    bk_factor factors[BK_FACTORS_MAX];
    size_t n;
    bool has_verdict; /* a definition: complex or not */
    bk_tri verdict;
    const bk_evidence
        *stratum;         /* row of the published rate that this case falls under; NULL: none, or not known */
    bool stratum_unwired; /* that rate is of unwired branches; else of whatever was done */
    bk_proportion stratum_pct;
    const bk_evidence *whole_events, *whole_lesions; /* rows of the counts of the whole population, or NULL */
    bk_proportion whole_pct;
    double relative_odds; /* against none of the factors; NaN: a factor is unknown, or no odds published */
    double odds_low, odds_high;    /* with the unknown factors absent / present; infinite: no upper end */
    bool odds_at_least;            /* a length in it was seen in one view only */
    double predicted_stenosis_pct; /* by the cosine of the angle; NaN unless the model predicts it */
} bk_risk_model;

#define BK_RISK_MODELS_MAX 20

/**
 * Evaluate every model. Returns how many.
 *
 * applies false never hides the factors: why_not says what lies outside. A site or context that was not said
 * excludes nothing.
 * Relative odds: product of the odds ratios of the factors present, a per-unit one to the power of its value;
 * never a percentage, since no intercept was published.
 * Source  evidence/risk.csv
 */
size_t bk_risk_models(const bk_risk_inputs *inputs, bk_sampling sampling, const bk_evidence_set *evidence,
                      bk_risk_model out[BK_RISK_MODELS_MAX]);

/** The factor of this id; NULL when the model has none. */
const bk_factor *bk_risk_factor(const bk_risk_model *model, const char *id);

#endif
