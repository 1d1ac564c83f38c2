/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/patient/contrast.h"

#include <math.h>

#include "core/patient/lines.h"

const char *const bk_contrast_ids[BK_CONTRAST_RULES] = {"max_dose_5kg_per_scr", "two_crcl", "three_crcl",
                                                        "three_seven_crcl", "egfr_1_78"};
const char *const bk_contrast_rows[BK_CONTRAST_RULES] = {
    BK_EVIDENCE("contrast_five_kg"), BK_EVIDENCE("contrast_two_crcl"), BK_EVIDENCE("contrast_three_crcl"),
    BK_EVIDENCE("contrast_three_seven_crcl"), BK_EVIDENCE("contrast_egfr_1_78")};

static double five_kg(const bk_kidney *kidney, double weight_kg, const bk_evidence_set *evidence)
{
    if (kidney->no_formula)
        return (double)NAN;
    return bk_evidence_value(evidence, BK_EVIDENCE("contrast_five_kg")) * weight_kg /
           kidney->creatinine_mg_dl;
}

static double limit_of(bk_contrast_rule rule, const bk_kidney *kidney, double weight_kg,
                       const bk_evidence_set *evidence)
{
    if (rule == BK_CONTRAST_FIVE_KG)
        return five_kg(kidney, weight_kg, evidence);
    return bk_evidence_value(evidence, bk_contrast_rows[rule]) *
           (rule == BK_CONTRAST_EGFR ? kidney->egfr : kidney->crcl);
}

void bk_contrast_limits(const bk_kidney *kidney, double weight_kg, double used_ml,
                        const bk_evidence_set *evidence, bk_contrast_limit out[BK_CONTRAST_RULES])
{
    const double cap = bk_evidence_value(evidence, BK_EVIDENCE("contrast_five_kg_cap"));
    const double range = bk_evidence_value(evidence, BK_EVIDENCE("contrast_five_kg_range"));
    for (int i = 0; i < BK_CONTRAST_RULES; i++) {
        double ml = limit_of((bk_contrast_rule)i, kidney, weight_kg, evidence);
        const bool capped = i == BK_CONTRAST_FIVE_KG && ml > cap;
        ml = capped ? cap : ml;
        const bool reached = i == BK_CONTRAST_EGFR ? bk_at_least(used_ml, ml) : bk_above(used_ml, ml);
        out[i] = (bk_contrast_limit){.limit_ml = ml,
                                     .capped = capped,
                                     .in_range = i != BK_CONTRAST_FIVE_KG || isnan(kidney->creatinine_mg_dl)
                                                     ? BK_UNKNOWN
                                                 : bk_at_least(kidney->creatinine_mg_dl, range) ? BK_YES
                                                                                                : BK_NO,
                                     .used_pct = 100 * used_ml / ml,
                                     .remaining_ml = ml - used_ml,
                                     .passed = isnan(ml) || isnan(used_ml) ? BK_UNKNOWN
                                               : reached                   ? BK_YES
                                                                           : BK_NO};
    }
}

bk_contrast_rule bk_contrast_strictest(const bk_contrast_limit limits[BK_CONTRAST_RULES])
{
    bk_contrast_rule best = BK_CONTRAST_RULES;
    for (int i = 0; i < BK_CONTRAST_RULES; i++)
        if (!isnan(limits[i].limit_ml) &&
            (best == BK_CONTRAST_RULES || limits[i].limit_ml < limits[best].limit_ml))
            best = (bk_contrast_rule)i;
    return best;
}

double bk_contrast_macd(const bk_kidney *kidney, double weight_kg, double used_ml,
                        const bk_evidence_set *evidence)
{
    return used_ml / five_kg(kidney, weight_kg, evidence);
}

const char *bk_contrast_macd_row(double ratio, const bk_evidence_set *evidence)
{
    if (isnan(ratio) || !bk_at_least(ratio, bk_evidence_value(evidence, BK_EVIDENCE("macd_line_1"))))
        return NULL;
    if (bk_above(ratio, bk_evidence_value(evidence, BK_EVIDENCE("macd_line_2"))))
        return BK_EVIDENCE("macd_2");
    return bk_at_least(ratio, bk_evidence_value(evidence, BK_EVIDENCE("macd_line_15")))
               ? BK_EVIDENCE("macd_15")
               : BK_EVIDENCE("macd_1");
}

double bk_iodine_g(double volume_ml, double iodine_mg_ml)
{
    return volume_ml * iodine_mg_ml / 1000;
}
