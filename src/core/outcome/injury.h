/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Procedural injury and infarction by every definition, side by side; each with its verdict and the clause
   that decides. Multiples are of the assay's own limit: the 99th percentile for troponin, the upper limit for
   CK-MB. docs/methods/injury.md */
#ifndef BK_CORE_OUTCOME_INJURY_H
#define BK_CORE_OUTCOME_INJURY_H

#include "base/evidence.h"
#include "core/case/case.h"

enum bk_course {
    BK_COURSE_NOT_SAID,
    BK_COURSE_NORMAL,
    BK_COURSE_STABLE,
    BK_COURSE_FALLING,
    BK_COURSE_RISING
};
enum bk_dissection {
    BK_DISSECTION_NOT_SAID,
    BK_DISSECTION_NONE,
    BK_DISSECTION_A,
    BK_DISSECTION_B,
    BK_DISSECTION_C,
    BK_DISSECTION_D,
    BK_DISSECTION_E,
    BK_DISSECTION_F
};

/* What the definitions ask, from whichever source it came. NaN and unknown: not said. */
typedef struct bk_injury_facts {
    double troponin_before, troponin_peak, ckmb_before, ckmb_peak; /* multiples */
    double hours_after;
    int course;             /* enum bk_course; of the troponin before */
    bool infarction_before; /* an infarction was running at presentation */
    bk_tri q_waves, lbbb, ecg_ischaemia, imaging_loss;
    double st_shift_mm;       /* depression negative */
    bk_tri side_occluded;     /* at any time */
    bk_tri side_lost_at_end;  /* flow limited in it at the end */
    bk_qty side_reference_mm; /* its SD with the scale in it */
    bk_tri flow_limiting, heart_failure_or_hypotension;
    int dissection;
} bk_injury_facts;

/**
 * Facts as entered. A side branch counts as occluded, and as lost at the end, by its TIMI grades where that
 * was not said; occluded without any later grade counts as lost at the end. side_reference_mm: used where
 * none was entered.
 */
bk_injury_facts bk_injury_facts_of(const bk_injury_input *in, int presentation, bk_qty side_reference_mm);

typedef enum bk_definition {
    BK_UDMI4,
    BK_EAPCI2021,
    BK_SCAI2014,
    BK_ARC2,
    BK_ISCHEMIA_PRIMARY,
    BK_DEFINITIONS
} bk_definition;
extern const char *const bk_definition_ids[BK_DEFINITIONS];
extern const char *const bk_definition_names[BK_DEFINITIONS];

typedef enum bk_verdict {
    BK_VERDICT_NONE,
    BK_VERDICT_INJURY,
    BK_VERDICT_MINOR,
    BK_VERDICT_MAJOR,
    BK_VERDICT_4A,
    BK_VERDICT_MI,
    BK_VERDICT_SIGNIFICANT,
    BK_VERDICT_NOT_MET,
    BK_VERDICT_DEPENDS,
    BK_VERDICT_NOT_CLASSIFIABLE
} bk_verdict;
extern const char *const bk_verdict_words[]; /* the contract's */

#define BK_INJURY_NOTES_MAX 4

typedef struct bk_defined {
    bk_verdict verdict;
    char why[320];
    const char *clause;                     /* evidence row that decides; NULL: none was reached */
    const char *needs[6];                   /* inputs that would settle it, as paths; ends with NULL */
    const char *notes[BK_INJURY_NOTES_MAX]; /* of boundaries and of standing; ends with NULL */
    double
        certainty_pct; /* ARC-2 only: that the branch is at or above 2.0 mm; NaN elsewhere or without an SD */
} bk_defined;

/** The 90 % interval of a diameter holds the line; certainty_pct: how likely it is at or above. NaN without
 * an SD. */
bool bk_interval_holds(bk_qty q, double line, double *certainty_pct);

void bk_injury_define(const bk_injury_facts *facts, const bk_evidence_set *evidence,
                      bk_defined out[BK_DEFINITIONS]);

#endif
