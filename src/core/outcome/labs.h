/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the laboratory values of a case say about injury: multiples before and after, the course before,
   creatinines. docs/methods/injury.md */
#ifndef BK_CORE_OUTCOME_LABS_H
#define BK_CORE_OUTCOME_LABS_H

#include "base/evidence.h"
#include "core/case/case.h"
#include "core/outcome/kidney_after.h"

typedef enum bk_lab_test {
    BK_LAB_TROPONIN,
    BK_LAB_CKMB,
    BK_LAB_CREATININE,
    BK_LAB_HAEMOGLOBIN,
    BK_LAB_TESTS,
    BK_LAB_OTHER = BK_LAB_TESTS
} bk_lab_test;

/** Which test a name means ("troponin", "hs-troponin T", "CK-MB", "creatinine", ...); BK_LAB_OTHER, with the
 * nearest word. */
bk_lab_test bk_lab_test_of(const char *name, const char **nearest);

/* A marker in multiples of its own limit. NaN and 0: not known. */
typedef struct bk_lab_marker {
    double before, peak, peak_hours; /* last before; highest after and its hours */
    int course;                      /* enum bk_course, from the samples before */
    size_t before_n, after_n;
    bool assay_changed; /* unit or limit differ between samples */
} bk_lab_marker;

/* Why a value is not used. */
typedef enum bk_lab_fault {
    BK_LAB_USED,
    BK_LAB_UNKNOWN_TEST,
    BK_LAB_NO_TIME,
    BK_LAB_NO_LIMIT,
    BK_LAB_WRONG_LIMIT,
    BK_LAB_BAD_UNIT,
    BK_LAB_IMPLAUSIBLE
} bk_lab_fault;
extern const char *const bk_lab_fault_words[];
/** ended_min: end of the procedure; NaN: not known, then nothing with a time is used. */
bk_lab_fault bk_lab_check(const bk_lab *lab, double ended_min);

/**
 * A marker from its samples. Samples at or before the end are "before". The course: normal when all are at or
 * below the limit; else by the change from the first to the last, more than 20 % either way; a single raised
 * one: not said. Source: rows udmi4_*.
 */
bk_lab_marker bk_lab_marker_of(const bk_list *labs, bk_lab_test test, double ended_min,
                               const bk_evidence_set *evidence);

/** The i-th creatinine after, with the last one before (else the fallback, in mg/dL); false: there is none.
 */
bool bk_lab_creatinine(const bk_list *labs, size_t i, double ended_min, double fallback_mg_dl,
                       const bk_evidence_set *evidence, bk_creatinine_pair *out);
/** Fall of haemoglobin [g/dL] from the last one before to the lowest after; NaN without both. */
double bk_lab_haemoglobin_drop(const bk_list *labs, double ended_min, const bk_evidence_set *evidence);

#endif
