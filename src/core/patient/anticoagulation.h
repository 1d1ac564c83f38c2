/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Heparin, ACT and the other parenteral drugs of the laboratory, by published amounts for each kilogram;
   generic names only. A dose needs the weight and the renal function. docs/methods/budget.md */
#ifndef BK_CORE_PATIENT_ANTICOAGULATION_H
#define BK_CORE_PATIENT_ANTICOAGULATION_H

#include "core/patient/kidney.h"

typedef struct bk_range {
    double low, high; /* NaN: not known */
    const char *row;  /* evidence it is from; NULL: none */
} bk_range;

/** Heparin bolus [U], both ends, rounded to 100 U; NaN for an unknown weight. gp_inhibitor unknown: NaN, row
 * NULL. */
bk_range bk_heparin_bolus_u(double weight_kg, bk_tri gp_inhibitor, enum bk_anticoagulant before,
                            const bk_evidence_set *evidence);
/** ACT target range [s]; NaN, row NULL, when the inhibitor, or without one the analyser's family, was not
 * said. */
bk_range bk_act_range_s(bk_tri gp_inhibitor, enum bk_act_family family, const bk_evidence_set *evidence);

typedef enum bk_act_class { BK_ACT_UNKNOWN, BK_ACT_BELOW, BK_ACT_IN_RANGE, BK_ACT_ABOVE } bk_act_class;
extern const char *const bk_act_class_words[]; /* "unknown", "below", "in_range", "above" */
bk_act_class bk_act_classify(double act_s, const bk_range *range);

typedef struct bk_dose {
    const char *drug, *part; /* "bivalirudin", "infusion" */
    const char *row;
    double amount;    /* in unit; NaN: not given, then why says it */
    const char *unit; /* "mg", "mg/h", "ug", "ug/min" */
    const char *why;  /* why it is held back; NULL: it is not */
    bool unverified;  /* the row is not "seen" */
} bk_dose;
#define BK_DOSES_MAX 16

/**
 * Doses of the other drugs for this weight and kidney. Returns how many.
 *
 * Held back (amount NaN, why): everything without weight, clearance or dialysis; infusions whose renal
 * reduction is known from memory only, once the clearance is at or below its line; enoxaparin without the
 * hours since its last dose.
 */
size_t bk_doses_of(double weight_kg, const bk_kidney *kidney, bk_tri dialysis, const bk_procedure *procedure,
                   const bk_evidence_set *evidence, bk_dose out[BK_DOSES_MAX]);

#endif
