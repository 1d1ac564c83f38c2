/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/patient/bleeding.h"

#include <math.h>

#include "core/patient/lines.h"

/* Below a line; unknown for NaN. */
static bk_tri below(double value, const char *row, const bk_evidence_set *evidence)
{
    return isnan(value) ? BK_UNKNOWN : bk_at_least(value, bk_evidence_value(evidence, row)) ? BK_NO : BK_YES;
}

/* The minor form of a pair: what meets the major one is not minor, what may meet it is not known. */
static bk_tri only_minor(bk_tri major, bk_tri minor)
{
    if (major == BK_YES || minor == BK_NO)
        return BK_NO;
    return major == BK_NO ? minor : BK_UNKNOWN;
}

static bk_tri haemoglobin_minor(double haemoglobin_g_dl, int sex, const bk_evidence_set *evidence)
{
    const bk_tri man = below(haemoglobin_g_dl, BK_EVIDENCE("hbr_hb_minor_men"), evidence);
    const bk_tri woman = below(haemoglobin_g_dl, BK_EVIDENCE("hbr_hb_minor_women"), evidence);
    if (sex == BK_SEX_NOT_SAID)
        return man == woman ? man : BK_UNKNOWN;
    return sex == BK_MALE ? man : woman;
}

static void count(bk_hbr *out)
{
    int major_unknown = 0, minor_unknown = 0;
    for (int i = 0; i < BK_HBR_CRITERIA; i++) {
        const bk_hbr_criterion *c = &out->criteria[i];
        *(c->major ? &out->major : &out->minor) += c->met == BK_YES;
        *(c->major ? &major_unknown : &minor_unknown) += c->met == BK_UNKNOWN;
    }
    if (out->major >= 1 || out->minor >= 2)
        out->high = BK_YES;
    else
        out->high = major_unknown == 0 && out->minor + minor_unknown < 2 ? BK_NO : BK_UNKNOWN;
}

bk_hbr bk_hbr_of(const bk_patient *patient, const bk_kidney *kidney, double haemoglobin_g_dl,
                 const bk_evidence_set *evidence)
{
    const bk_bleeding_history *h = &patient->bleeding_history;
    const double platelets = bk_value(patient->platelets_10e9_l);
    const double age = bk_value(patient->age_y);
    const bool dialysis = patient->dialysis == BK_YES;
    const bk_tri egfr_major =
        dialysis ? BK_YES : below(kidney->egfr, BK_EVIDENCE("hbr_egfr_major"), evidence);
    const bk_tri egfr_minor =
        dialysis ? BK_YES : below(kidney->egfr, BK_EVIDENCE("hbr_egfr_minor"), evidence);
    const bk_tri hb_major = below(haemoglobin_g_dl, BK_EVIDENCE("hbr_hb_major"), evidence);
    const bk_tri old = isnan(age)                                              ? BK_UNKNOWN
                       : below(age, BK_EVIDENCE("hbr_age"), evidence) == BK_NO ? BK_YES
                                                                               : BK_NO;
    bk_hbr out = {
        .criteria = {
            {"anticoagulation", true, patient->oral_anticoagulation, BK_EVIDENCE("hbr_anticoagulation"),
             "patient.oral_anticoagulation"},
            {"egfr_below_30", true, egfr_major, BK_EVIDENCE("hbr_egfr_major"), "patient.creatinine_mg_dl"},
            {"haemoglobin_below_11", true, hb_major, BK_EVIDENCE("hbr_hb_major"), "patient.haemoglobin_g_dl"},
            {"bleeding_6_months", true, h->bleeding_6_months, BK_EVIDENCE("hbr_bleeding_major"),
             "patient.bleeding_history.bleeding_6_months"},
            {"platelets_below_100", true, below(platelets, BK_EVIDENCE("hbr_platelets"), evidence),
             BK_EVIDENCE("hbr_platelets"), "patient.platelets_10e9_l"},
            {"diathesis", true, h->diathesis, BK_EVIDENCE("hbr_diathesis"),
             "patient.bleeding_history.diathesis"},
            {"cirrhosis_portal", true, h->cirrhosis_portal, BK_EVIDENCE("hbr_cirrhosis"),
             "patient.bleeding_history.cirrhosis_portal"},
            {"cancer_12_months", true, h->cancer_12_months, BK_EVIDENCE("hbr_cancer"),
             "patient.bleeding_history.cancer_12_months"},
            {"intracranial_spontaneous", true, h->intracranial_spontaneous, BK_EVIDENCE("hbr_ich"),
             "patient.bleeding_history.intracranial_spontaneous"},
            {"intracranial_traumatic", true, h->intracranial_traumatic_12_months,
             BK_EVIDENCE("hbr_ich_trauma"), "patient.bleeding_history.intracranial_traumatic_12_months"},
            {"brain_malformation", true, h->brain_malformation, BK_EVIDENCE("hbr_avm"),
             "patient.bleeding_history.brain_malformation"},
            {"stroke_6_months", true, h->stroke_6_months, BK_EVIDENCE("hbr_stroke_major"),
             "patient.bleeding_history.stroke_6_months"},
            {"surgery_planned", true, h->surgery_planned, BK_EVIDENCE("hbr_surgery_planned"),
             "patient.bleeding_history.surgery_planned"},
            {"surgery_or_trauma_30_days", true, h->surgery_or_trauma_30_days,
             BK_EVIDENCE("hbr_surgery_recent"), "patient.bleeding_history.surgery_or_trauma_30_days"},
            {"age_75", false, old, BK_EVIDENCE("hbr_age"), "patient.age_y"},
            {"egfr_30_to_59", false, only_minor(egfr_major, egfr_minor), BK_EVIDENCE("hbr_egfr_minor"),
             "patient.creatinine_mg_dl"},
            {"haemoglobin_low", false,
             only_minor(hb_major, haemoglobin_minor(haemoglobin_g_dl, patient->sex, evidence)),
             patient->sex == BK_FEMALE ? BK_EVIDENCE("hbr_hb_minor_women") : BK_EVIDENCE("hbr_hb_minor_men"),
             "patient.haemoglobin_g_dl"},
            {"bleeding_12_months", false, only_minor(h->bleeding_6_months, h->bleeding_12_months),
             BK_EVIDENCE("hbr_bleeding_minor"), "patient.bleeding_history.bleeding_12_months"},
            {"nsaid_or_steroid", false, h->nsaid_or_steroid, BK_EVIDENCE("hbr_nsaid"),
             "patient.bleeding_history.nsaid_or_steroid"},
            {"ischaemic_stroke_ever", false, only_minor(h->stroke_6_months, h->ischaemic_stroke_ever),
             BK_EVIDENCE("hbr_stroke_minor"), "patient.bleeding_history.ischaemic_stroke_ever"},
        }};
    count(&out);
    return out;
}
