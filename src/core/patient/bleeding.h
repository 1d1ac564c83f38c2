/* SPDX-License-Identifier: GPL-3.0-or-later */
/* High bleeding risk by the ARC criteria, each by itself; yes, no or unknown. docs/methods/budget.md */
#ifndef BK_CORE_PATIENT_BLEEDING_H
#define BK_CORE_PATIENT_BLEEDING_H

#include "core/patient/kidney.h"

typedef struct bk_hbr_criterion {
    const char *id;
    bool major;
    bk_tri met;
    const char *row;
    const char *input; /* path that would settle it */
} bk_hbr_criterion;
#define BK_HBR_CRITERIA 20

typedef struct bk_hbr {
    bk_hbr_criterion criteria[BK_HBR_CRITERIA]; /* 14 major, then 6 minor */
    int major, minor;                           /* met */
    bk_tri high; /* one major or two minor; no: not even with every unknown one met */
} bk_hbr;

/**
 * Where a major and a minor form exist (eGFR, haemoglobin, bleeding, stroke), what meets the major one is not
 * minor. On dialysis eGFR counts as below 30. Source: rows hbr_*.
 */
bk_hbr bk_hbr_of(const bk_patient *patient, const bk_kidney *kidney, double haemoglobin_g_dl,
                 const bk_evidence_set *evidence);

#endif
