/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/evidence.h"

/* Set once, before any thread is started; only read afterwards. */
static const bk_evidence_set *own;

void bk_evidence_use(const bk_evidence_set *set)
{
    own = set;
}

const bk_evidence_set *bk_evidence_builtin(void)
{
    return own ? own : bk_evidence_compiled();
}
