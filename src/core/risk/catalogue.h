/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The models as constant data: factors, scope and strata, with the evidence rows they come from. */
#ifndef BK_CORE_RISK_CATALOGUE_H
#define BK_CORE_RISK_CATALOGUE_H

#include "core/risk/models.h"

typedef enum bk_model_sites { BK_ANY_SITE, BK_NOT_LEFT_MAIN, BK_ONLY_LEFT_MAIN, BK_ONLY_LAD } bk_model_sites;
typedef enum bk_model_verdict { BK_NO_VERDICT, BK_VERDICT_DEFINITION, BK_VERDICT_BIF_ARC } bk_model_verdict;

typedef struct bk_factor_entry {
    const char *id;
    bk_relation relation;
    int what;             /* bk_risk_quantity, or bk_risk_fact for BK_IS */
    const char *line_row; /* NULL: the line is 0 (per unit), or there is none */
    const char *odds_row;
    bool per_unit;
} bk_factor_entry;

/* A published rate and what a case must show to fall under it: bits of factors by their place in the model.
 */
typedef struct bk_stratum_entry {
    const char *rate_row, *lesions_row; /* lesions_row NULL: no denominator, so no interval */
    unsigned yes, no;
    bool unwired;
} bk_stratum_entry;
#define BK_VERDICT_BIT 31 /* stands for the verdict in yes and no */

typedef struct bk_model_entry {
    const char *id, *head_row, *events_row, *lesions_row;
    const char *side_floor_row; /* smallest side branch taken in, NULL: not stated */
    bk_model_sites sites;
    bool only_stemi;
    bk_model_verdict verdict;
    bk_factor_entry factors[BK_FACTORS_MAX]; /* ends with an empty one */
    bk_stratum_entry strata[4];              /* likewise */
} bk_model_entry;

extern const bk_model_entry bk_model_catalogue[];
extern const size_t bk_model_catalogue_n;

#endif
