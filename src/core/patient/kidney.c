/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/patient/kidney.h"

#include <math.h>

#include "core/patient/lines.h"

double bk_creatinine_mg_dl(const bk_patient *patient, const bk_evidence_set *evidence)
{
    if (bk_has(patient->creatinine_mg_dl))
        return patient->creatinine_mg_dl.value;
    return bk_value(patient->creatinine_umol_l) / bk_evidence_value(evidence, BK_EVIDENCE("creatinine_umol"));
}

double bk_haemoglobin_g_dl(const bk_patient *patient, const bk_evidence_set *evidence)
{
    if (bk_has(patient->haemoglobin_g_dl))
        return patient->haemoglobin_g_dl.value;
    if (bk_has(patient->haemoglobin_g_l))
        return patient->haemoglobin_g_l.value / 10;
    return bk_value(patient->haemoglobin_mmol_l) *
           bk_evidence_value(evidence, BK_EVIDENCE("haemoglobin_mmol"));
}

double bk_egfr(double creatinine_mg_dl, double age_y, int sex, const bk_evidence_set *evidence)
{
    if (sex == BK_SEX_NOT_SAID)
        return (double)NAN;
    const bool woman = sex == BK_FEMALE;
    const double k =
        bk_evidence_value(evidence, woman ? BK_EVIDENCE("egfr2021_k_women") : BK_EVIDENCE("egfr2021_k_men"));
    const double a =
        bk_evidence_value(evidence, woman ? BK_EVIDENCE("egfr2021_a_women") : BK_EVIDENCE("egfr2021_a_men"));
    const double ratio = creatinine_mg_dl / k; // NaN stays NaN: no fmin or fmax, which would drop it
    const double power =
        ratio < 1 ? pow(ratio, a) : pow(ratio, bk_evidence_value(evidence, BK_EVIDENCE("egfr2021_above")));
    return bk_evidence_value(evidence, BK_EVIDENCE("egfr2021_scale")) * power *
           pow(bk_evidence_value(evidence, BK_EVIDENCE("egfr2021_age")), age_y) *
           (woman ? bk_evidence_value(evidence, BK_EVIDENCE("egfr2021_women")) : 1);
}

double bk_crcl(double creatinine_mg_dl, double age_y, int sex, double weight_kg,
               const bk_evidence_set *evidence)
{
    if (sex == BK_SEX_NOT_SAID)
        return (double)NAN;
    const double men = (bk_evidence_value(evidence, BK_EVIDENCE("crcl_years")) - age_y) * weight_kg /
                       (bk_evidence_value(evidence, BK_EVIDENCE("crcl_cockcroft")) * creatinine_mg_dl);
    return sex == BK_FEMALE ? men * bk_evidence_value(evidence, BK_EVIDENCE("crcl_women")) : men;
}

double bk_body_surface(double height_cm, double weight_kg, const bk_evidence_set *evidence)
{
    return bk_evidence_value(evidence, BK_EVIDENCE("bsa_dubois")) *
           pow(height_cm, bk_evidence_value(evidence, BK_EVIDENCE("bsa_dubois_height"))) *
           pow(weight_kg, bk_evidence_value(evidence, BK_EVIDENCE("bsa_dubois_weight")));
}

double bk_egfr_of_person(double egfr, double surface_m2, const bk_evidence_set *evidence)
{
    return egfr * surface_m2 / bk_evidence_value(evidence, BK_EVIDENCE("bsa_standard"));
}

const char *bk_gfr_category(double egfr, const bk_evidence_set *evidence)
{
    static const struct {
        const char *name, *row;
    } from[] = {{"G1", BK_EVIDENCE("gfr_g1")},
                {"G2", BK_EVIDENCE("gfr_g2")},
                {"G3a", BK_EVIDENCE("gfr_g3a")},
                {"G3b", BK_EVIDENCE("gfr_g3b")},
                {"G4", BK_EVIDENCE("gfr_g4")}};
    if (isnan(egfr))
        return NULL;
    for (size_t i = 0; i < sizeof from / sizeof from[0]; i++)
        if (bk_at_least(egfr, bk_evidence_value(evidence, from[i].row)))
            return from[i].name;
    return "G5";
}

bk_kidney bk_kidney_of(const bk_patient *patient, const bk_evidence_set *evidence)
{
    const double age = bk_value(patient->age_y), weight = bk_value(patient->weight_kg);
    bk_kidney out = {.creatinine_mg_dl = bk_creatinine_mg_dl(patient, evidence),
                     .egfr = (double)NAN,
                     .crcl = (double)NAN,
                     .surface_m2 = bk_body_surface(bk_value(patient->height_cm), weight, evidence),
                     .egfr_of_person = (double)NAN,
                     .no_formula = patient->dialysis == BK_YES || patient->creatinine_unstable == BK_YES};
    if (out.no_formula)
        return out;
    out.egfr = bk_egfr(out.creatinine_mg_dl, age, patient->sex, evidence);
    out.crcl = bk_crcl(out.creatinine_mg_dl, age, patient->sex, weight, evidence);
    out.egfr_of_person = bk_egfr_of_person(out.egfr, out.surface_m2, evidence);
    return out;
}
