/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ask budget: kidney, contrast, radiation, anticoagulation and bleeding, before and while it runs. */
#include "app/ask_budget.h"

#include <math.h>

static const char *standing_of(const char *row)
{
    return bk_standing_name(bk_patient_row(row)->standing);
}

static bk_json *egfr_json(const bk_kidney *kidney)
{
    if (isnan(kidney->egfr))
        return bk_json_new_null();
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "value", kidney->egfr, 4);
    bk_json_put_text(out, "unit", "mL/min/1.73 m2");
    bk_json_put_text(out, "stage", bk_gfr_category(kidney->egfr, bk_evidence_builtin()));
    bk_json_put_text(out, "formula", "CKD-EPI 2021, creatinine, without race");
    bk_json_put_fixed(out, "of_the_person_ml_min", kidney->egfr_of_person, 1);
    bk_json_put_fixed(out, "body_surface_m2", kidney->surface_m2, 2);
    bk_json_put_text(out, "standing", standing_of(BK_EVIDENCE("egfr2021_scale")));
    return out;
}

static bk_json *crcl_json(const bk_kidney *kidney)
{
    if (isnan(kidney->crcl))
        return bk_json_new_null();
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "value", kidney->crcl, 4);
    bk_json_put_text(out, "unit", "mL/min");
    bk_json_put_text(out, "formula", "Cockcroft-Gault, actual weight");
    bk_json_put_text(out, "standing", standing_of(BK_EVIDENCE("crcl_cockcroft")));
    return out;
}

const char *bk_budget_no_formula(const bk_patient *patient)
{
    return patient->dialysis == BK_YES
               ? "on dialysis neither eGFR nor clearance holds: contrast limits cannot be given"
               : "the creatinine is not stable: neither eGFR nor clearance holds, contrast limits cannot be "
                 "given";
}

static void note_missing(const bk_patient_asked *in, bk_answer *answer)
{
    const bk_patient *p = &in->c->patient;
    if (in->kidney.no_formula) {
        bk_answer_missing(answer, "contrast.limits", bk_budget_no_formula(p));
        bk_answer_source(answer, BK_EVIDENCE("contrast_dialysis"));
        return;
    }
    if (isnan(in->kidney.creatinine_mg_dl))
        bk_answer_missing(answer, "patient.creatinine_mg_dl",
                          "gives eGFR, clearance, every contrast limit and the doses");
    if (isnan(in->age_y))
        bk_answer_missing(answer, "patient.age_y", "gives eGFR, clearance and the limits that rest on them");
    if (p->sex == BK_SEX_NOT_SAID)
        bk_answer_missing(answer, "patient.sex", "gives eGFR, clearance and the limits that rest on them");
    if (isnan(in->weight_kg))
        bk_answer_missing(answer, "patient.weight_kg", "gives clearance, 5 kg/Scr and every dose");
}

static void note_sources(const bk_patient_asked *in, bk_answer *answer)
{
    bk_answer_source(answer, BK_EVIDENCE("egfr2021_scale"));
    bk_answer_source(answer, BK_EVIDENCE("egfr2021_limits"));
    bk_answer_source(answer, BK_EVIDENCE("egfr2021_bias"));
    bk_answer_source(answer, BK_EVIDENCE("gfr_g1"));
    bk_answer_source(answer, BK_EVIDENCE("crcl_cockcroft"));
    if (!isnan(in->kidney.egfr_of_person))
        bk_answer_source(answer, BK_EVIDENCE("bsa_dubois"));
    if (bk_has(in->c->patient.creatinine_umol_l))
        bk_answer_source(answer, BK_EVIDENCE("creatinine_umol"));
    if (bk_has(in->c->patient.haemoglobin_mmol_l))
        bk_answer_source(answer, BK_EVIDENCE("haemoglobin_mmol"));
}

void bk_answer_budget(const bk_asked *asked, bk_answer *answer)
{
    const bk_patient_asked in = bk_patient_asked_of(asked, answer);
    note_missing(&in, answer); // first: their reasons are the ones to be read
    bk_json_put(answer->json, "questions", bk_patient_questions(&in));
    bk_json_put(answer->json, "egfr", egfr_json(&in.kidney));
    bk_json_put(answer->json, "crcl", crcl_json(&in.kidney));
    bk_json_put(answer->json, "contrast", bk_budget_contrast(&in, answer));
    bk_json_put(answer->json, "radiation", bk_budget_radiation(&in, answer));
    bk_json_put(answer->json, "heparin", bk_budget_heparin(&in, answer));
    bk_json_put(answer->json, "drugs", bk_budget_drugs(&in, answer));
    bk_json_put(answer->json, "bleeding", bk_budget_bleeding(&in, answer));
    bk_json_put(answer->json, "antiplatelet", bk_budget_antiplatelet(&in, answer));
    bk_json_put(answer->json, "kidney_scores", bk_budget_kidney_scores(&in, answer));
    note_sources(&in, answer);
    bk_answer_caution(
        answer, "Budgets are not predictions, and no percentage here is this patient's. Not for children, "
                "not in pregnancy.");
    bk_answer_caution(
        answer, "Doses are arithmetic on published amounts: check local label, and both the weight and the "
                "renal function shown beside them.");
}
