/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Stent thrombosis by the ARC definitions. docs/methods/injury.md */
#ifndef BK_CORE_OUTCOME_THROMBOSIS_H
#define BK_CORE_OUTCOME_THROMBOSIS_H

#include "base/evidence.h"
#include "core/case/case.h"

typedef struct bk_thrombosis {
    const char *kind;   /* "definite", "probable", "possible", "none"; NULL: cannot say */
    const char *timing; /* "acute", "subacute", "late", "very late"; NULL: not known, or none */
    const char *why;
    const char *row; /* NULL: none */
} bk_thrombosis;

/** Time 0: the guide catheter has left. Source: rows thrombosis_*. */
bk_thrombosis bk_thrombosis_of(const bk_thrombosis_after *in, const bk_evidence_set *evidence);

#endif
