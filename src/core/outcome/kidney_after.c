/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/outcome/kidney_after.h"

#include <math.h>

#include "core/patient/kidney.h"
#include "core/patient/lines.h"

bk_creatinine_pair bk_creatinine_pair_of(const bk_patient *patient, const bk_kidney_after *after,
                                         const bk_evidence_set *evidence)
{
    const double factor = bk_evidence_value(evidence, BK_EVIDENCE("creatinine_umol"));
    const bool umol = bk_has(after->creatinine_umol_l) && bk_has(patient->creatinine_umol_l);
    const double hours = bk_value(after->creatinine_hours);
    if (umol)
        return (bk_creatinine_pair){patient->creatinine_umol_l.value, after->creatinine_umol_l.value, hours,
                                    true};
    const double later = bk_has(after->creatinine_mg_dl)    ? after->creatinine_mg_dl.value
                         : bk_has(after->creatinine_umol_l) ? after->creatinine_umol_l.value / factor
                                                            : (double)NAN;
    return (bk_creatinine_pair){bk_creatinine_mg_dl(patient, evidence), later, hours, false};
}

/* Stage by the ratio; 0 below the line of stage 1. */
static int by_ratio(double ratio, const bk_evidence_set *evidence, const char **clause)
{
    if (bk_at_least(ratio, bk_evidence_value(evidence, BK_EVIDENCE("aki_stage3")))) {
        *clause = BK_EVIDENCE("aki_stage3");
        return 3;
    }
    if (bk_at_least(ratio, bk_evidence_value(evidence, BK_EVIDENCE("aki_stage2")))) {
        *clause = BK_EVIDENCE("aki_stage2");
        return 2;
    }
    if (!bk_at_least(ratio, bk_evidence_value(evidence, BK_EVIDENCE("aki_ratio"))))
        return 0;
    *clause = BK_EVIDENCE("aki_ratio");
    return 1;
}

/* Stage by creatinine; -1 while values, or a time on which it depends, are missing. */
static int by_creatinine(const bk_creatinine_pair *p, double rise, double ratio,
                         const bk_evidence_set *evidence, const char **clause)
{
    const char *rise_row = p->umol_l ? BK_EVIDENCE("aki_rise_umol") : BK_EVIDENCE("aki_rise");
    const char *level_row =
        p->umol_l ? BK_EVIDENCE("aki_stage3_level_umol") : BK_EVIDENCE("aki_stage3_level");
    const bool risen = bk_at_least(rise, bk_evidence_value(evidence, rise_row));
    if (isnan(rise))
        return -1;
    int stage = by_ratio(ratio, evidence, clause);
    if (stage == 0 && !risen)
        return 0; // whenever it was taken
    if (isnan(p->hours)) {
        *clause = NULL;
        return -1;
    }
    if (bk_above(p->hours, bk_evidence_value(evidence, BK_EVIDENCE("aki_ratio_hours"))))
        stage = 0;
    if (stage == 0 && risen &&
        !bk_above(p->hours, bk_evidence_value(evidence, BK_EVIDENCE("aki_rise_hours")))) {
        stage = 1;
        *clause = rise_row;
    }
    if (stage > 0 && stage < 3 && bk_at_least(p->after, bk_evidence_value(evidence, level_row))) {
        stage = 3;
        *clause = level_row;
    }
    if (stage == 0)
        *clause = NULL;
    return stage;
}

/* Stage by urine; 0 also where it was not measured: it can only add. */
static int by_urine(const bk_kidney_after *after, const bk_evidence_set *evidence, const char **clause)
{
    if (!bk_has(after->urine_ml_kg_h) || !bk_has(after->urine_hours))
        return 0;
    const double rate = after->urine_ml_kg_h.value, hours = after->urine_hours.value;
    const bool low = !bk_at_least(rate, bk_evidence_value(evidence, BK_EVIDENCE("aki_urine")));
    const bool very_low = !bk_at_least(rate, bk_evidence_value(evidence, BK_EVIDENCE("aki_urine_low")));
    *clause = BK_EVIDENCE("aki_urine_low");
    if ((very_low && bk_at_least(hours, bk_evidence_value(evidence, BK_EVIDENCE("aki_urine_hours_3")))) ||
        (rate <= 0 && bk_at_least(hours, bk_evidence_value(evidence, BK_EVIDENCE("aki_anuria_hours")))))
        return 3;
    *clause = BK_EVIDENCE("aki_urine");
    if (low && bk_at_least(hours, bk_evidence_value(evidence, BK_EVIDENCE("aki_urine_hours_2"))))
        return 2;
    return low && bk_at_least(hours, bk_evidence_value(evidence, BK_EVIDENCE("aki_urine_hours_1"))) ? 1 : 0;
}

static bk_tri by_older(const bk_creatinine_pair *p, double rise, double ratio,
                       const bk_evidence_set *evidence, const char **clause)
{
    const char *row = p->umol_l ? BK_EVIDENCE("cin_rise_umol") : BK_EVIDENCE("cin_rise");
    const bool by_rise = bk_at_least(rise, bk_evidence_value(evidence, row));
    const bool met = by_rise || bk_at_least(ratio, bk_evidence_value(evidence, BK_EVIDENCE("cin_ratio")));
    if (isnan(rise))
        return BK_UNKNOWN;
    if (!met)
        return BK_NO;
    if (isnan(p->hours))
        return BK_UNKNOWN;
    *clause = by_rise ? row : BK_EVIDENCE("cin_ratio");
    return bk_above(p->hours, bk_evidence_value(evidence, BK_EVIDENCE("cin_hours"))) ? BK_NO : BK_YES;
}

bk_kidney_injury bk_kidney_injury_of(const bk_creatinine_pair *pair, const bk_kidney_after *after,
                                     const bk_evidence_set *evidence)
{
    const double rise = pair->after - pair->before, ratio = pair->after / pair->before;
    bk_kidney_injury out = {.rise = rise, .ratio = ratio};
    const char *urine_clause = NULL;
    out.stage = by_creatinine(pair, rise, ratio, evidence, &out.clause);
    out.older = by_older(pair, rise, ratio, evidence, &out.older_clause);
    out.beyond_48_h = bk_above(pair->hours, bk_evidence_value(evidence, BK_EVIDENCE("aki_rise_hours"))) &&
                      out.stage == 0 && rise > 0;
    const int urine = by_urine(after, evidence, &urine_clause);
    if (urine > out.stage && urine > 0) {
        out.stage = urine;
        out.clause = urine_clause;
    }
    if (after->renal_replacement == BK_YES) {
        out.stage = 3;
        out.clause = BK_EVIDENCE("aki_stage3");
    }
    return out;
}
