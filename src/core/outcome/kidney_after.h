/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Kidney injury after contrast by KDIGO 2012 and by the older definition, which are not interchangeable.
   docs/methods/injury.md */
#ifndef BK_CORE_OUTCOME_KIDNEY_AFTER_H
#define BK_CORE_OUTCOME_KIDNEY_AFTER_H

#include "base/evidence.h"
#include "core/case/case.h"

/* Two creatinines in one unit, as they were printed: lines exist for both units and are not exact multiples.
 */
typedef struct bk_creatinine_pair {
    double before, after; /* NaN: not said */
    double hours;         /* between them; NaN: not said */
    bool umol_l;          /* else mg/dL */
} bk_creatinine_pair;

/** One creatinine in the unit of the other where they differ, by 88.4. */
bk_creatinine_pair bk_creatinine_pair_of(const bk_patient *patient, const bk_kidney_after *after,
                                         const bk_evidence_set *evidence);

typedef struct bk_kidney_injury {
    int stage;    /* KDIGO: 0 none, 1 to 3; -1: cannot say */
    bk_tri older; /* the older definition */
    double rise;  /* in the unit of the pair */
    double ratio;
    const char *clause, *older_clause; /* rows that decide; NULL: none */
    bool beyond_48_h;                  /* a rise that came too late for the 0.3 mg/dL rule */
} bk_kidney_injury;

/**
 * Worst criterion counts. A time that was not said leaves what depends on it unknown; the level of 4.0 mg/dL
 * counts only once injury is met. Lines hold for values written in decimals: 1.2 - 0.9 is a rise of 0.3.
 * Source: rows aki_*, cin_*.
 */
bk_kidney_injury bk_kidney_injury_of(const bk_creatinine_pair *pair, const bk_kidney_after *after,
                                     const bk_evidence_set *evidence);

#endif
