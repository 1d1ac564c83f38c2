/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Points tables. Their points were read in copies, or between the ends of a nomogram: sums are shown as not
   verified, never with a rate for one patient. docs/methods/budget.md */
#ifndef BK_CORE_PATIENT_SCORES_H
#define BK_CORE_PATIENT_SCORES_H

#include "core/patient/kidney.h"

typedef struct bk_score_item {
    const char *id, *row;
    bk_tri present; /* unknown: its input is missing */
    double points;  /* counted now; NaN: not known */
} bk_score_item;
#define BK_SCORE_ITEMS_MAX 12

typedef struct bk_score {
    bk_score_item items[BK_SCORE_ITEMS_MAX];
    size_t n;
    double points; /* sum; NaN: an item is not known, never taken as 0 */
} bk_score;

/**
 * Kidney injury, points of 2004; contrast_ml: used, or planned. eGFR as of 2021 where the score had another
 * formula. Source: rows mehran_*.
 */
bk_score bk_mehran_2004(const bk_patient *patient, const bk_kidney *kidney, const bk_procedure *procedure,
                        double contrast_ml, const bk_evidence_set *evidence);
/** Row of the published group of that sum; NULL for NaN. */
const char *bk_mehran_group_row(double points, const bk_evidence_set *evidence);

/** Straight lines between the printed ends of the PRECISE-DAPT nomogram, 0 to 100. Source: rows precise_*. */
bk_score bk_precise_dapt(const bk_patient *patient, const bk_kidney *kidney, double haemoglobin_g_dl,
                         const bk_evidence_set *evidence);

/** DAPT score, -2 to 10; for month 12 without event. Source: rows dapt_*. */
bk_score bk_dapt_score(const bk_patient *patient, const bk_procedure *procedure,
                       const bk_evidence_set *evidence);

#endif
