/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files of the injury definitions share. */
#ifndef BK_CORE_OUTCOME_INJURY_INSIDE_H
#define BK_CORE_OUTCOME_INJURY_INSIDE_H

#include "core/outcome/injury.h"

typedef enum bk_baseline {
    BK_BASELINE_NONE, /* no sample */
    BK_BASELINE_NORMAL,
    BK_BASELINE_RAISED, /* and stable or falling */
    BK_BASELINE_RISING,
    BK_BASELINE_OPEN /* raised, or an infarction running, and its course not said */
} bk_baseline;

/** before: multiple of the marker in question. why: NULL for normal and raised, else words for the answer. */
bk_baseline bk_baseline_of(const bk_injury_facts *f, double before, const bk_evidence_set *evidence,
                           const char **why);
/** The peak lies behind the 48 h of all definitions; false when its time was not said. */
bool bk_outside_window(const bk_injury_facts *f, const bk_evidence_set *evidence);

/* A sign that a definition asks for besides the marker. */
typedef struct bk_sign {
    bk_tri present;
    const char *words, *input; /* "new Q waves", path that would settle it */
} bk_sign;
/** Is any of them there? which: words of the first. Where it is unknown, the open inputs go to out->needs. */
bk_tri bk_any(const bk_sign *signs, size_t n, const char **which, bk_defined *out);

void bk_say(bk_defined *out, bk_verdict verdict, const char *clause, const char *format, ...) BK_PRINTF(4, 5);
void bk_note_on(bk_defined *out, const char *note);

void bk_define_udmi4(const bk_injury_facts *f, const bk_evidence_set *evidence, bk_defined *out);
void bk_define_eapci(const bk_injury_facts *f, const bk_evidence_set *evidence, bk_defined *out);
void bk_define_scai(const bk_injury_facts *f, const bk_evidence_set *evidence, bk_defined *out);
void bk_define_arc2(const bk_injury_facts *f, const bk_evidence_set *evidence, bk_defined *out);
void bk_define_ischemia(const bk_injury_facts *f, const bk_evidence_set *evidence, bk_defined *out);

#endif
