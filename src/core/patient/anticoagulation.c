/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/patient/anticoagulation.h"

#include <math.h>

#include "core/patient/lines.h"

const char *const bk_act_class_words[] = {"unknown", "below", "in_range", "above"};

static double rounded(double units, const bk_evidence_set *evidence)
{
    const double step = bk_evidence_value(evidence, BK_EVIDENCE("heparin_round"));
    return step * floor(units / step + 0.5 + BK_LINE_SLACK);
}

bk_range bk_heparin_bolus_u(double weight_kg, bk_tri gp_inhibitor, enum bk_anticoagulant before,
                            const bk_evidence_set *evidence)
{
    const bool gpi = gp_inhibitor == BK_YES;
    if (gp_inhibitor == BK_UNKNOWN || before == BK_ON_HEPARIN || before == BK_ON_ENOXAPARIN)
        return (bk_range){(double)NAN, (double)NAN, NULL};
    if (before == BK_ON_FONDAPARINUX) {
        const char *row = gpi ? BK_EVIDENCE("heparin_fondaparinux_gpi") : BK_EVIDENCE("heparin_fondaparinux");
        const double u = rounded(bk_evidence_value(evidence, row) * weight_kg, evidence);
        return (bk_range){u, u, row};
    }
    const char *row = gpi ? BK_EVIDENCE("heparin_bolus_gpi") : BK_EVIDENCE("heparin_bolus");
    return (bk_range){rounded(bk_evidence_low(evidence, row) * weight_kg, evidence),
                      rounded(bk_evidence_high(evidence, row) * weight_kg, evidence), row};
}

bk_range bk_act_range_s(bk_tri gp_inhibitor, enum bk_act_family family, const bk_evidence_set *evidence)
{
    const char *row = gp_inhibitor == BK_YES          ? BK_EVIDENCE("act_gpi")
                      : gp_inhibitor == BK_UNKNOWN    ? NULL
                      : family == BK_ACT_LOW_READING  ? BK_EVIDENCE("act_low_reading")
                      : family == BK_ACT_HIGH_READING ? BK_EVIDENCE("act_high_reading")
                                                      : NULL;
    if (!row)
        return (bk_range){(double)NAN, (double)NAN, NULL};
    return (bk_range){bk_evidence_low(evidence, row), bk_evidence_high(evidence, row), row};
}

bk_act_class bk_act_classify(double act_s, const bk_range *range)
{
    if (isnan(act_s) || !range->row)
        return BK_ACT_UNKNOWN;
    if (!bk_at_least(act_s, range->low))
        return BK_ACT_BELOW;
    return bk_above(act_s, range->high) ? BK_ACT_ABOVE : BK_ACT_IN_RANGE;
}

static const char from_memory[] = "the lower rate at this clearance is from memory only: check the label";

/* A dose for each kilogram, and hours or minutes of its unit. */
static bk_dose per_kg(const char *drug, const char *part, const char *row, double weight_kg, const char *unit,
                      const bk_evidence_set *evidence)
{
    const bk_evidence *found = bk_evidence_find(evidence, row);
    return (bk_dose){drug, part, row, found->value * weight_kg, unit, NULL, found->standing != BK_SEEN};
}

static void hold(bk_dose *dose, const char *why)
{
    dose->amount = (double)NAN;
    dose->why = why;
}

static bk_dose bivalirudin_infusion(double kg, const bk_kidney *kidney, bk_tri dialysis,
                                    const bk_evidence_set *evidence)
{
    const char *row = BK_EVIDENCE("dose_bivalirudin_rate");
    if (dialysis == BK_YES)
        row = BK_EVIDENCE("dose_bivalirudin_rate_dialysis");
    else if (!bk_at_least(kidney->crcl, bk_evidence_value(evidence, BK_EVIDENCE("bivalirudin_crcl"))))
        row = BK_EVIDENCE("dose_bivalirudin_rate_crcl_30");
    return per_kg("bivalirudin", "infusion", row, kg, "mg/h", evidence);
}

static bk_dose enoxaparin(double kg, const bk_procedure *procedure, const bk_evidence_set *evidence)
{
    const bk_evidence *hours = bk_evidence_find(evidence, BK_EVIDENCE("enoxaparin_hours"));
    const bool before = procedure->anticoagulant == BK_ON_ENOXAPARIN;
    bk_dose out =
        per_kg("enoxaparin", before ? "top-up" : "without earlier dose",
               before ? BK_EVIDENCE("dose_enoxaparin_top_up") : BK_EVIDENCE("dose_enoxaparin_alone"), kg,
               "mg", evidence);
    if (!before)
        return out;
    const double ago = bk_value(procedure->enoxaparin_hours_ago);
    if (isnan(ago))
        hold(&out, "needs the hours since the last dose");
    else if (!bk_at_least(ago, hours->low))
        hold(&out, "none: the last dose was less than 8 h ago");
    else if (bk_above(ago, hours->high))
        hold(&out, "the last dose was more than 12 h ago: no rule was read for that");
    return out;
}

size_t bk_doses_of(double weight_kg, const bk_kidney *kidney, bk_tri dialysis, const bk_procedure *procedure,
                   const bk_evidence_set *evidence, bk_dose out[BK_DOSES_MAX])
{
    size_t n = 0;
    out[n++] =
        per_kg("bivalirudin", "bolus", BK_EVIDENCE("dose_bivalirudin_bolus"), weight_kg, "mg", evidence);
    out[n++] = bivalirudin_infusion(weight_kg, kidney, dialysis, evidence);
    out[n++] = per_kg("bivalirudin", "extra bolus", BK_EVIDENCE("dose_bivalirudin_extra"), weight_kg, "mg",
                      evidence);
    out[n++] = enoxaparin(weight_kg, procedure, evidence);
    out[n++] = per_kg("tirofiban", "bolus", BK_EVIDENCE("dose_tirofiban_bolus"), weight_kg, "ug", evidence);
    out[n++] =
        per_kg("tirofiban", "infusion", BK_EVIDENCE("dose_tirofiban_rate"), weight_kg, "ug/min", evidence);
    if (!bk_above(kidney->crcl, bk_evidence_value(evidence, BK_EVIDENCE("tirofiban_crcl"))))
        hold(&out[n - 1], from_memory);
    out[n++] = per_kg("eptifibatide", "bolus, twice", BK_EVIDENCE("dose_eptifibatide_bolus"), weight_kg, "ug",
                      evidence);
    out[n++] = per_kg("eptifibatide", "infusion", BK_EVIDENCE("dose_eptifibatide_rate"), weight_kg, "ug/min",
                      evidence);
    if (!bk_at_least(kidney->crcl, bk_evidence_value(evidence, BK_EVIDENCE("eptifibatide_crcl"))))
        hold(&out[n - 1], from_memory);
    out[n++] = per_kg("cangrelor", "bolus", BK_EVIDENCE("dose_cangrelor_bolus"), weight_kg, "ug", evidence);
    out[n++] =
        per_kg("cangrelor", "infusion", BK_EVIDENCE("dose_cangrelor_rate"), weight_kg, "ug/min", evidence);
    for (size_t i = 0; i < n; i++)
        if (isnan(weight_kg))
            hold(&out[i], "needs the weight");
        else if (isnan(kidney->crcl) && dialysis != BK_YES)
            hold(&out[i], "needs the renal function: creatinine, age, sex");
    return n;
}
