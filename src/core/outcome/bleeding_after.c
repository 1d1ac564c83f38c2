/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/outcome/bleeding_after.h"

#include <math.h>

#include "core/patient/lines.h"

/* Fall of haemoglobin with 1 g/dL for each unit given. */
static double corrected(const bk_bleeding_after *in, const bk_evidence_set *evidence)
{
    if (!bk_has(in->haemoglobin_drop_g_dl))
        return (double)NAN;
    const int units = in->transfused_units == BK_INTEGER_ABSENT ? 0 : in->transfused_units;
    return in->haemoglobin_drop_g_dl.value +
           units * bk_evidence_value(evidence, BK_EVIDENCE("barc_transfusion"));
}

static bk_barc found(const char *type, const char *why, const char *row, double drop)
{
    return (bk_barc){type, why, row, drop};
}

bk_barc bk_barc_of(const bk_bleeding_after *in, const bk_evidence_set *evidence)
{
    const double drop = corrected(in, evidence);
    const bool transfused = in->transfused_units != BK_INTEGER_ABSENT && in->transfused_units > 0;
    if (in->bypass_related == BK_YES)
        return found(NULL, "related to bypass surgery: type 4 is not classified here", BK_EVIDENCE("barc_4"),
                     drop);
    if (in->fatal == BK_FATAL_DEFINITE)
        return found("5b", "definite fatal bleeding", BK_EVIDENCE("barc_5"), drop);
    if (in->fatal == BK_FATAL_PROBABLE)
        return found("5a", "probable fatal bleeding", BK_EVIDENCE("barc_5"), drop);
    if (in->intracranial == BK_YES || in->intraocular == BK_YES)
        return found("3c", "intracranial, intraspinal or intraocular", BK_EVIDENCE("barc_3c"), drop);
    if (in->tamponade == BK_YES || in->surgery_for_control == BK_YES || in->vasoactive_drugs == BK_YES)
        return found("3b", "tamponade, surgery for control or vasoactive drugs", BK_EVIDENCE("barc_3b"),
                     drop);
    if (in->overt == BK_NO)
        return found("0", "no bleeding", NULL, drop);
    if (in->overt == BK_UNKNOWN)
        return found(NULL, "not said whether there was overt bleeding", NULL, drop);
    if (bk_at_least(drop, bk_evidence_value(evidence, BK_EVIDENCE("barc_3b"))))
        return found("3b", "overt with a fall of haemoglobin of 5 g/dL or more", BK_EVIDENCE("barc_3b"),
                     drop);
    if (bk_at_least(drop, bk_evidence_value(evidence, BK_EVIDENCE("barc_3a"))) || transfused)
        return found("3a",
                     transfused ? "overt with transfusion"
                                : "overt with a fall of haemoglobin of 3 to below 5 g/dL",
                     BK_EVIDENCE("barc_3a"), drop);
    if (in->actionable == BK_YES)
        return found("2", "overt and actionable", BK_EVIDENCE("barc_2"), drop);
    if (in->actionable == BK_UNKNOWN || isnan(drop))
        return found(NULL, "overt; whether it was actionable, or the fall of haemoglobin, was not said", NULL,
                     drop);
    return found("1", "overt, not actionable", NULL, drop);
}
