/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Kidney function before contrast: estimated filtration, clearance, category. docs/methods/budget.md */
#ifndef BK_CORE_PATIENT_KIDNEY_H
#define BK_CORE_PATIENT_KIDNEY_H

#include "base/evidence.h"
#include "core/case/case.h"

/** Creatinine of the sheet [mg/dL], from whichever unit was entered; NaN: not said. */
double bk_creatinine_mg_dl(const bk_patient *patient, const bk_evidence_set *evidence);
/** Haemoglobin of the sheet [g/dL], from whichever unit was entered; NaN: not said. */
double bk_haemoglobin_g_dl(const bk_patient *patient, const bk_evidence_set *evidence);

/**
 * eGFR by CKD-EPI 2021, creatinine, without race [mL/min/1.73 m2]; adults, stable creatinine, not on
 * dialysis. creatinine [mg/dL], age [years]; NaN when one is NaN or the sex was not said. Source: rows
 * egfr2021_*.
 */
double bk_egfr(double creatinine_mg_dl, double age_y, int sex, const bk_evidence_set *evidence);

/** Creatinine clearance by Cockcroft-Gault [mL/min], actual weight [kg]; NaN as above. Source: rows crcl_*.
 */
double bk_crcl(double creatinine_mg_dl, double age_y, int sex, double weight_kg,
               const bk_evidence_set *evidence);

/** Body surface by DuBois [m2]. Source: rows bsa_*. */
double bk_body_surface(double height_cm, double weight_kg, const bk_evidence_set *evidence);
/** Filtration of the person [mL/min] from one indexed to 1.73 m2. */
double bk_egfr_of_person(double egfr, double surface_m2, const bk_evidence_set *evidence);

/** "G1" ... "G5" by half-open intervals on the real value; NULL for NaN. Source: rows gfr_g*. */
const char *bk_gfr_category(double egfr, const bk_evidence_set *evidence);

/* What stands of the kidney in a case. */
typedef struct bk_kidney {
    double creatinine_mg_dl, egfr, crcl, surface_m2, egfr_of_person; /* NaN: not known, or not to be given */
    bool no_formula; /* on dialysis or creatinine not stable: nothing may rest on eGFR or clearance */
} bk_kidney;

bk_kidney bk_kidney_of(const bk_patient *patient, const bk_evidence_set *evidence);

#endif
