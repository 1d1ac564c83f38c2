/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Field tables of the patient sheet and of the laboratory. Ranges are wide: they catch mixed-up units, not
 * illness. */
#include "core/case/case.h"

static const char *const sex_words[] = {"", "male", "female", NULL};
static const char *const presentation_words[] = {"",      "chronic", "unstable", "nstemi",
                                                 "stemi", "shock",   "arrest",   NULL};
static const char *const diabetes_words[] = {"", "none", "oral", "insulin", NULL};

#define HBR_SOURCE "criteria of high bleeding risk, ARC 2019"

static const bk_field bleeding_history_fields[] = {
    {BK_ROW_TRI(bk_bleeding_history, bleeding_6_months,
                "spontaneous bleeding with hospital stay or transfusion in the past 6 months, or recurrent"),
     .source = HBR_SOURCE},
    {BK_ROW_TRI(bk_bleeding_history, bleeding_12_months, "such a bleeding within 12 months"), .source = HBR_SOURCE},
    {BK_ROW_TRI(bk_bleeding_history, diathesis, "chronic bleeding diathesis"), .source = HBR_SOURCE},
    {BK_ROW_TRI(bk_bleeding_history, cirrhosis_portal, "cirrhosis with portal hypertension"), .source = HBR_SOURCE},
    {BK_ROW_TRI(bk_bleeding_history, cancer_12_months, "active cancer in the past 12 months, not skin other than melanoma"),
     .source = HBR_SOURCE},
    {BK_ROW_TRI(bk_bleeding_history, intracranial_spontaneous, "spontaneous intracranial bleeding, ever"),
     .source = HBR_SOURCE},
    {BK_ROW_TRI(bk_bleeding_history, intracranial_traumatic_12_months,
                "traumatic intracranial bleeding in the past 12 months"),
     .source = HBR_SOURCE},
    {BK_ROW_TRI(bk_bleeding_history, brain_malformation, "brain arteriovenous malformation"), .source = HBR_SOURCE},
    {BK_ROW_TRI(bk_bleeding_history, stroke_6_months, "moderate or severe ischaemic stroke in the past 6 months"),
     .source = HBR_SOURCE},
    {BK_ROW_TRI(bk_bleeding_history, ischaemic_stroke_ever, "ischaemic stroke, ever"), .source = HBR_SOURCE},
    {BK_ROW_TRI(bk_bleeding_history, surgery_planned, "major surgery on dual therapy that cannot be deferred"),
     .source = HBR_SOURCE},
    {BK_ROW_TRI(bk_bleeding_history, surgery_or_trauma_30_days, "major surgery or trauma in the 30 days before"),
     .source = HBR_SOURCE},
    {BK_ROW_TRI(bk_bleeding_history, nsaid_or_steroid, "long-term oral NSAID or steroid"), .source = HBR_SOURCE},
    {0},
};

const bk_field bk_patient_fields[] = {
    {BK_ROW_QTY(bk_patient, age_y, "years", 18, 110, BK_ENTERED, "age")},
    {BK_ROW_CHOICE(bk_patient, sex, sex_words, "sex as the formulas use it")},
    {BK_ROW_QTY(bk_patient, weight_kg, "kg", 30, 250, BK_ENTERED, "body weight"), .other_unit = "lb", .per_other = 0.45359237},
    {BK_ROW_QTY(bk_patient, height_cm, "cm", 120, 230, BK_ENTERED, "body height"), .other_unit = "m", .per_other = 100},
    {BK_ROW_QTY(bk_patient, creatinine_mg_dl, "mg/dL", 0.2, 20, BK_ENTERED, "serum creatinine"),
     .one_of = "creatinine", .hint = "a value in umol/L belongs in creatinine_umol_l", .other_unit = "umol/L",
     .per_other = 1 / 88.4},
    {BK_ROW_QTY(bk_patient, creatinine_umol_l, "umol/L", 18, 1770, BK_ENTERED, "serum creatinine"),
     .one_of = "creatinine", .hint = "a value in mg/dL belongs in creatinine_mg_dl", .other_unit = "mg/dL",
     .per_other = 88.4},
    {BK_ROW_QTY(bk_patient, haemoglobin_g_dl, "g/dL", 3, 24, BK_ENTERED, "haemoglobin"),
     .one_of = "haemoglobin", .hint = "a value in g/L belongs in haemoglobin_g_l", .other_unit = "g/L", .per_other = 0.1},
    {BK_ROW_QTY(bk_patient, haemoglobin_g_l, "g/L", 30, 240, BK_ENTERED, "haemoglobin"),
     .one_of = "haemoglobin",
     .hint = "a value in g/dL belongs in haemoglobin_g_dl, one in mmol/L in haemoglobin_mmol_l", .other_unit = "g/dL",
     .per_other = 10},
    {BK_ROW_QTY(bk_patient, haemoglobin_mmol_l, "mmol/L", 1.9, 15, BK_ENTERED, "haemoglobin"),
     .one_of = "haemoglobin", .hint = "a value in g/L belongs in haemoglobin_g_l", .other_unit = "g/L",
     .per_other = 0.1 / 1.6114},
    {BK_ROW_CHOICE(bk_patient, presentation, presentation_words, "clinical presentation")},
    {BK_ROW_CHOICE(bk_patient, diabetes, diabetes_words, "diabetes and its treatment")},
    {BK_ROW_QTY(bk_patient, lvef_pct, "%", 5, 85, BK_ENTERED, "left ventricular ejection fraction")},
    {BK_ROW_TRI(bk_patient, dialysis, "on dialysis")},
    {BK_ROW_TRI(bk_patient, creatinine_unstable, "creatinine is changing: no formula holds")},
    {BK_ROW_QTY(bk_patient, haematocrit_pct, "%", 10, 70, BK_ENTERED, "haematocrit")},
    {BK_ROW_QTY(bk_patient, platelets_10e9_l, "10^9/L", 5, 2000, BK_ENTERED, "platelets")},
    {BK_ROW_QTY(bk_patient, white_cells_10e9_l, "10^9/L", 0.5, 100, BK_ENTERED, "white cells")},
    {BK_ROW_TRI(bk_patient, heart_failure, "heart failure, NYHA III or IV, or earlier pulmonary oedema")},
    {BK_ROW_TRI(bk_patient, smoker, "smoker")},
    {BK_ROW_TRI(bk_patient, oral_anticoagulation, "long-term oral anticoagulation"), .source = HBR_SOURCE},
    {BK_ROW_TRI(bk_patient, prior_pci_or_infarction, "earlier PCI or infarction")},
    {BK_ROW_OBJECT(bk_patient, bleeding_history, bk_bleeding_history, bleeding_history_fields,
                   "what raises the risk of bleeding")},
    {0},
};

static const char *const limit_words[] = {"", "url_99", "uln", NULL};

const bk_field bk_lab_fields[] = {
    {BK_ROW_TEXT(bk_lab, at, "time of the sample, ISO 8601")},
    {BK_ROW_TEXT(bk_lab, test, "what was measured")},
    {BK_ROW_QTY(bk_lab, value, NULL, 0, 1e7, BK_ENTERED, "the value, in the unit given")},
    {BK_ROW_TEXT(bk_lab, unit, "unit of value and limit")},
    {BK_ROW_QTY(bk_lab, limit, NULL, 0, 1e7, BK_ENTERED, "the assay's own limit")},
    {BK_ROW_CHOICE(bk_lab, limit_kind, limit_words,
                   "99th percentile (url_99) or upper limit of normal (uln)")},
    {0},
};
