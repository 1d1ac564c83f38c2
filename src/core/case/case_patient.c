/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Field tables of the patient sheet and of the laboratory. Ranges are wide: they catch mixed-up units, not
 * illness. */
#include "core/case/case.h"

static const char *const sex_words[] = {"", "male", "female", NULL};
static const char *const presentation_words[] = {"",      "chronic", "unstable", "nstemi",
                                                 "stemi", "shock",   "arrest",   NULL};
static const char *const diabetes_words[] = {"", "none", "oral", "insulin", NULL};

const bk_field bk_patient_fields[] = {
    {BK_ROW_QTY(bk_patient, age_y, "years", 18, 110, BK_ENTERED, "age")},
    {BK_ROW_CHOICE(bk_patient, sex, sex_words, "sex as the formulas use it")},
    {BK_ROW_QTY(bk_patient, weight_kg, "kg", 30, 250, BK_ENTERED, "body weight")},
    {BK_ROW_QTY(bk_patient, height_cm, "cm", 120, 230, BK_ENTERED, "body height")},
    {BK_ROW_QTY(bk_patient, creatinine_mg_dl, "mg/dL", 0.2, 20, BK_ENTERED, "serum creatinine"),
     .one_of = "creatinine", .hint = "a value in umol/L belongs in creatinine_umol_l"},
    {BK_ROW_QTY(bk_patient, creatinine_umol_l, "umol/L", 18, 1770, BK_ENTERED, "serum creatinine"),
     .one_of = "creatinine", .hint = "a value in mg/dL belongs in creatinine_mg_dl"},
    {BK_ROW_QTY(bk_patient, haemoglobin_g_dl, "g/dL", 3, 24, BK_ENTERED, "haemoglobin"),
     .one_of = "haemoglobin", .hint = "a value in g/L belongs in haemoglobin_g_l"},
    {BK_ROW_QTY(bk_patient, haemoglobin_g_l, "g/L", 30, 240, BK_ENTERED, "haemoglobin"),
     .one_of = "haemoglobin",
     .hint = "a value in g/dL belongs in haemoglobin_g_dl, one in mmol/L in haemoglobin_mmol_l"},
    {BK_ROW_QTY(bk_patient, haemoglobin_mmol_l, "mmol/L", 1.9, 15, BK_ENTERED, "haemoglobin"),
     .one_of = "haemoglobin"},
    {BK_ROW_CHOICE(bk_patient, presentation, presentation_words, "clinical presentation")},
    {BK_ROW_CHOICE(bk_patient, diabetes, diabetes_words, "diabetes and its treatment")},
    {BK_ROW_QTY(bk_patient, lvef_pct, "%", 5, 85, BK_ENTERED, "left ventricular ejection fraction")},
    {BK_ROW_TRI(bk_patient, dialysis, "on dialysis")},
    {BK_ROW_QTY(bk_patient, lv_mass_g, "g", 40, 600, BK_ENTERED, "mass of the left ventricle, from imaging")},
    {BK_ROW_QTY(bk_patient, aortic_mean_mmhg, "mmHg", 30, 200, BK_ENTERED, "mean aortic pressure during the procedure")},
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
