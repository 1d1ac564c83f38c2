/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/patient/scores.h"

#include <math.h>

#include "core/patient/lines.h"

static void push(bk_score *score, const char *id, const char *row, double points)
{
    score->items[score->n++] = (bk_score_item){id, row,
                                               isnan(points) ? BK_UNKNOWN
                                               : points != 0 ? BK_YES
                                                             : BK_NO,
                                               points};
    score->points += points;
}

/* A fact that brings the points of its row. */
static void push_fact(bk_score *score, const char *id, const char *row, bk_tri fact,
                      const bk_evidence_set *evidence)
{
    push(score, id, row,
         fact == BK_UNKNOWN ? (double)NAN
         : fact == BK_YES   ? bk_evidence_value(evidence, row)
                            : 0);
}

static bk_tri anaemia(double haematocrit_pct, int sex, const bk_evidence_set *evidence)
{
    if (isnan(haematocrit_pct) || sex == BK_SEX_NOT_SAID)
        return BK_UNKNOWN;
    const double line = bk_evidence_value(evidence, sex == BK_MALE ? BK_EVIDENCE("mehran_haematocrit_men")
                                                                   : BK_EVIDENCE("mehran_haematocrit_women"));
    return bk_at_least(haematocrit_pct, line) ? BK_NO : BK_YES;
}

/* Half-open intervals. */
static const char *egfr_row(double egfr, const bk_evidence_set *evidence)
{
    if (!bk_at_least(egfr, bk_evidence_value(evidence, BK_EVIDENCE("mehran_egfr_line_20"))))
        return BK_EVIDENCE("mehran_egfr_below");
    return bk_at_least(egfr, bk_evidence_value(evidence, BK_EVIDENCE("mehran_egfr_line_40")))
               ? BK_EVIDENCE("mehran_egfr_40")
               : BK_EVIDENCE("mehran_egfr_20");
}

static bk_tri diabetes_of(const bk_patient *patient)
{
    return patient->diabetes == BK_DIABETES_NOT_SAID ? BK_UNKNOWN
           : patient->diabetes == BK_DIABETES_NONE   ? BK_NO
                                                     : BK_YES;
}

bk_score bk_mehran_2004(const bk_patient *patient, const bk_kidney *kidney, const bk_procedure *procedure,
                        double contrast_ml, const bk_evidence_set *evidence)
{
    bk_score out = {.n = 0, .points = 0};
    const double age = bk_value(patient->age_y);
    const double hundreds =
        floor(contrast_ml / bk_evidence_value(evidence, BK_EVIDENCE("mehran_contrast_each")) + BK_LINE_SLACK);
    push_fact(&out, "hypotension", BK_EVIDENCE("mehran_hypotension"), procedure->hypotension, evidence);
    push_fact(&out, "balloon_pump", BK_EVIDENCE("mehran_pump"), procedure->balloon_pump, evidence);
    push_fact(&out, "heart_failure", BK_EVIDENCE("mehran_heart_failure"), patient->heart_failure, evidence);
    push_fact(&out, "age_above_75", BK_EVIDENCE("mehran_age"),
              isnan(age)                                                                   ? BK_UNKNOWN
              : bk_above(age, bk_evidence_value(evidence, BK_EVIDENCE("mehran_age_line"))) ? BK_YES
                                                                                           : BK_NO,
              evidence);
    push_fact(&out, "anaemia", BK_EVIDENCE("mehran_anaemia"),
              anaemia(bk_value(patient->haematocrit_pct), patient->sex, evidence), evidence);
    push_fact(&out, "diabetes", BK_EVIDENCE("mehran_diabetes"), diabetes_of(patient), evidence);
    push(&out, "contrast", BK_EVIDENCE("mehran_contrast"),
         hundreds * bk_evidence_value(evidence, BK_EVIDENCE("mehran_contrast")));
    const char *row = egfr_row(kidney->egfr, evidence);
    const bool normal =
        bk_at_least(kidney->egfr, bk_evidence_value(evidence, BK_EVIDENCE("mehran_egfr_line_60")));
    push(&out, "egfr", row,
         isnan(kidney->egfr) ? (double)NAN
         : normal            ? 0
                             : bk_evidence_value(evidence, row));
    return out;
}

const char *bk_mehran_group_row(double points, const bk_evidence_set *evidence)
{
    static const char *const groups[][2] = {{BK_EVIDENCE("mehran_up_to_1"), BK_EVIDENCE("mehran_group_1")},
                                            {BK_EVIDENCE("mehran_up_to_2"), BK_EVIDENCE("mehran_group_2")},
                                            {BK_EVIDENCE("mehran_up_to_3"), BK_EVIDENCE("mehran_group_3")}};
    if (isnan(points))
        return NULL;
    for (size_t i = 0; i < sizeof groups / sizeof groups[0]; i++)
        if (points <= bk_evidence_value(evidence, groups[i][0]))
            return groups[i][1];
    return BK_EVIDENCE("mehran_group_4");
}

/* Points along a printed scale: 0 at one end, all of the row's at the other, nothing beyond. */
static void push_along(bk_score *score, const char *id, double value, const char *none_row,
                       const char *all_row, const char *row, const bk_evidence_set *evidence)
{
    const double none_at = bk_evidence_value(evidence, none_row),
                 all_at = bk_evidence_value(evidence, all_row);
    const double t = (value - none_at) / (all_at - none_at);
    push(score, id, row, isnan(t) ? (double)NAN : fmin(1, fmax(0, t)) * bk_evidence_value(evidence, row));
}

bk_score bk_precise_dapt(const bk_patient *patient, const bk_kidney *kidney, double haemoglobin_g_dl,
                         const bk_evidence_set *evidence)
{
    const bk_bleeding_history *h = &patient->bleeding_history;
    const bk_tri bled = h->bleeding_6_months == BK_YES || h->bleeding_12_months == BK_YES ? BK_YES
                        : h->bleeding_6_months == BK_NO && h->bleeding_12_months == BK_NO ? BK_NO
                                                                                          : BK_UNKNOWN;
    bk_score out = {.n = 0, .points = 0};
    push_along(&out, "age", bk_value(patient->age_y), BK_EVIDENCE("precise_age_none"),
               BK_EVIDENCE("precise_age_all"), BK_EVIDENCE("precise_age"), evidence);
    push_along(&out, "haemoglobin", haemoglobin_g_dl, BK_EVIDENCE("precise_hb_none"),
               BK_EVIDENCE("precise_hb_all"), BK_EVIDENCE("precise_hb"), evidence);
    push_along(&out, "white_cells", bk_value(patient->white_cells_10e9_l), BK_EVIDENCE("precise_white_none"),
               BK_EVIDENCE("precise_white_all"), BK_EVIDENCE("precise_white"), evidence);
    push_along(&out, "clearance", kidney->crcl, BK_EVIDENCE("precise_crcl_none"),
               BK_EVIDENCE("precise_crcl_all"), BK_EVIDENCE("precise_crcl"), evidence);
    push_fact(&out, "earlier_bleeding", BK_EVIDENCE("precise_bleeding"), bled, evidence);
    return out;
}

bk_score bk_dapt_score(const bk_patient *patient, const bk_procedure *procedure,
                       const bk_evidence_set *evidence)
{
    const double age = bk_value(patient->age_y), lvef = bk_value(patient->lvef_pct);
    const double weak_line = bk_evidence_value(evidence, BK_EVIDENCE("dapt_ejection_line"));
    const bool old = bk_at_least(age, bk_evidence_value(evidence, BK_EVIDENCE("dapt_age_line_75")));
    const bk_tri infarction = patient->presentation == BK_PRESENTATION_NOT_SAID ? BK_UNKNOWN
                              : patient->presentation >= BK_NSTEMI              ? BK_YES
                                                                                : BK_NO;
    const bk_tri weak = patient->heart_failure == BK_YES || lvef < weak_line   ? BK_YES
                        : patient->heart_failure == BK_NO && lvef >= weak_line ? BK_NO
                                                                               : BK_UNKNOWN;
    bk_score out = {.n = 0, .points = 0};
    push_fact(&out, "age", old ? BK_EVIDENCE("dapt_age_75") : BK_EVIDENCE("dapt_age_65"),
              isnan(age)                                                                       ? BK_UNKNOWN
              : bk_at_least(age, bk_evidence_value(evidence, BK_EVIDENCE("dapt_age_line_65"))) ? BK_YES
                                                                                               : BK_NO,
              evidence);
    push_fact(&out, "smoker", BK_EVIDENCE("dapt_smoker"), patient->smoker, evidence);
    push_fact(&out, "diabetes", BK_EVIDENCE("dapt_diabetes"), diabetes_of(patient), evidence);
    push_fact(&out, "infarction", BK_EVIDENCE("dapt_infarction"), infarction, evidence);
    push_fact(&out, "prior_pci_or_infarction", BK_EVIDENCE("dapt_prior"), patient->prior_pci_or_infarction,
              evidence);
    push_fact(&out, "paclitaxel_stent", BK_EVIDENCE("dapt_paclitaxel"), procedure->paclitaxel_stent,
              evidence);
    push_fact(&out, "stent_below_3mm", BK_EVIDENCE("dapt_small"), procedure->stent_below_3mm, evidence);
    push_fact(&out, "heart_failure", BK_EVIDENCE("dapt_heart_failure"), weak, evidence);
    push_fact(&out, "vein_graft", BK_EVIDENCE("dapt_vein"), procedure->vein_graft, evidence);
    return out;
}
