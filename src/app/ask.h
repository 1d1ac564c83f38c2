/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `ask TOPIC`: one question to a case, one JSON answer (contract: branchkeep.answer/1). Nothing is written;
   after a what-if the document in memory holds it. */
#ifndef BK_APP_ASK_H
#define BK_APP_ASK_H

#include "app/answer.h"
#include "app/case_doc.h"

typedef struct bk_ask_options {
    const char *const *what_if; /* PATH=VALUE, applied before answering */
    int what_if_n;
    long samples; /* for topics that sample their inputs */
    long seed;
} bk_ask_options;
#define BK_ASK_SAMPLES 2000

/** Is there such a topic? Errors: BK_E_USAGE unknown (names the nearest), or not in this version. */
bk_status bk_ask_topic(const char *topic, bk_err *err) BK_MUST_CHECK;

/**
 * Answer. *out is owned by the caller, NULL on failure.
 * Errors: BK_E_USAGE unknown topic (names the nearest), one not in this version, or a bad what-if path;
 * BK_E_DATA.
 */
bk_status bk_ask(const char *topic, bk_case_doc *doc, const bk_ask_options *options, bk_json **out,
                 bk_err *err) BK_MUST_CHECK;

/* ---- one function per topic, in ask_<topic>.c ---- */

void bk_ask_devices(const bk_case_doc *doc, bk_answer *answer);

#endif
