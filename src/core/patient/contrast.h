/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Contrast as budgets: each published limit by itself, in the denominator it was published with. They predict
   kidney injury poorly and never block. docs/methods/budget.md */
#ifndef BK_CORE_PATIENT_CONTRAST_H
#define BK_CORE_PATIENT_CONTRAST_H

#include "core/patient/kidney.h"

typedef enum bk_contrast_rule {
    BK_CONTRAST_FIVE_KG,
    BK_CONTRAST_TWO_CRCL,
    BK_CONTRAST_THREE_CRCL,
    BK_CONTRAST_THREE_SEVEN_CRCL,
    BK_CONTRAST_EGFR,
    BK_CONTRAST_RULES
} bk_contrast_rule;
/** Ids of the contract, and the evidence row of each. */
extern const char *const bk_contrast_ids[BK_CONTRAST_RULES];
extern const char *const bk_contrast_rows[BK_CONTRAST_RULES];

typedef struct bk_contrast_limit {
    double limit_ml;     /* NaN: an input is missing, or no limit can be given */
    bool capped;         /* 5 kg/Scr reached its cap */
    bk_tri in_range;     /* of the creatinine the rule was derived at; unknown where none was published */
    double used_pct;     /* of the limit; NaN: nothing known of what was used */
    double remaining_ml; /* below 0 once it is passed */
    bk_tri passed;       /* used reached the limit; more than the limit for those stated as "above" */
} bk_contrast_limit;

/** All limits. used_ml NaN: not known. Source: rows contrast_*. */
void bk_contrast_limits(const bk_kidney *kidney, double weight_kg, double used_ml,
                        const bk_evidence_set *evidence, bk_contrast_limit out[BK_CONTRAST_RULES]);

/** The smallest limit; BK_CONTRAST_RULES: none is known. */
bk_contrast_rule bk_contrast_strictest(const bk_contrast_limit limits[BK_CONTRAST_RULES]);

/** Used over 5 kg/Scr, without the cap; NaN when not known. Source: Brown 2010, rows macd_*. */
double bk_contrast_macd(const bk_kidney *kidney, double weight_kg, double used_ml,
                        const bk_evidence_set *evidence);
/** Row with the published odds of that multiple; NULL below 1 or for NaN. */
const char *bk_contrast_macd_row(double ratio, const bk_evidence_set *evidence);

/** Iodine [g] in a volume [mL] of an agent [mg/mL]. */
double bk_iodine_g(double volume_ml, double iodine_mg_ml);

#endif
