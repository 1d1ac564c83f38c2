/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/outcome/thrombosis.h"

#include <math.h>

#include "core/patient/lines.h"

static const char *timing_of(double hours, const bk_evidence_set *evidence)
{
    if (isnan(hours))
        return NULL;
    if (!bk_above(hours, bk_evidence_value(evidence, BK_EVIDENCE("thrombosis_acute"))))
        return "acute";
    if (!bk_above(hours, 24 * bk_evidence_value(evidence, BK_EVIDENCE("thrombosis_subacute"))))
        return "subacute";
    return bk_above(hours, 24 * bk_evidence_value(evidence, BK_EVIDENCE("thrombosis_late"))) ? "very late"
                                                                                             : "late";
}

bk_thrombosis bk_thrombosis_of(const bk_thrombosis_after *in, const bk_evidence_set *evidence)
{
    const double hours = bk_value(in->hours_after);
    const double early = 24 * bk_evidence_value(evidence, BK_EVIDENCE("thrombosis_probable"));
    const char *timing = timing_of(hours, evidence);
    if (in->thrombus_by_pathology == BK_YES ||
        (in->thrombus_by_angiography == BK_YES && in->acute_ischaemia == BK_YES))
        return (bk_thrombosis){"definite", timing,
                               in->thrombus_by_pathology == BK_YES
                                   ? "thrombus shown by pathology"
                                   : "thrombus by angiography with acute ischaemia",
                               BK_EVIDENCE("thrombosis_definite")};
    if (in->infarction_in_territory == BK_YES)
        return (bk_thrombosis){"probable", timing,
                               "infarction in the stent's territory without another cause",
                               BK_EVIDENCE("thrombosis_probable")};
    if (in->unexplained_death == BK_YES && isnan(hours))
        return (bk_thrombosis){NULL, NULL,
                               "unexplained death: its time decides between probable and possible",
                               BK_EVIDENCE("thrombosis_probable")};
    if (in->unexplained_death == BK_YES && !bk_above(hours, early))
        return (bk_thrombosis){"probable", timing, "unexplained death within 30 days",
                               BK_EVIDENCE("thrombosis_probable")};
    if (in->unexplained_death == BK_YES)
        return (bk_thrombosis){"possible", timing, "unexplained death after 30 days; ARC only",
                               BK_EVIDENCE("thrombosis_possible")};
    if (in->thrombus_by_angiography == BK_YES && in->acute_ischaemia == BK_NO)
        return (bk_thrombosis){
            "none", NULL,
            "thrombus without acute ischaemia: a silent occlusion is not stent thrombosis (from memory)",
            BK_EVIDENCE("thrombosis_silent")};
    if (in->thrombus_by_angiography == BK_NO && in->thrombus_by_pathology != BK_YES &&
        in->unexplained_death == BK_NO && in->infarction_in_territory == BK_NO)
        return (bk_thrombosis){"none", NULL, "none of the criteria", NULL};
    return (bk_thrombosis){NULL, NULL, "not enough was said", NULL};
}
