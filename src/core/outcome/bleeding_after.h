/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bleeding after the procedure by BARC. docs/methods/injury.md */
#ifndef BK_CORE_OUTCOME_BLEEDING_AFTER_H
#define BK_CORE_OUTCOME_BLEEDING_AFTER_H

#include "base/evidence.h"
#include "core/case/case.h"

typedef struct bk_barc {
    const char *type; /* "0", "1", "2", "3a", "3b", "3c", "5a", "5b"; NULL: cannot say, or type 4 */
    const char *why;  /* what decided, or what is missing */
    const char *row;  /* NULL: none */
    double drop_g_dl; /* corrected for transfusion; NaN: not known */
} bk_barc;

/** The worst type that is met; 4 (bypass) is not classified. Source: rows barc_*. */
bk_barc bk_barc_of(const bk_bleeding_after *in, const bk_evidence_set *evidence);

#endif
