/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/outcome/proportion.h"

#include <math.h>

#include "core/patient/lines.h"

const char *const bk_disproportion_words[BK_DISPROPORTIONS] = {
    "the rise is above 5 times and this branch was never closed",
    "the rise is above 5 times and this branch was closed for 20 min or less and open at the end",
    "the rise is 35 times or more and all of the interval of the branch's territory is below 10 % of the "
    "ventricle",
    "the branch was lost with 10 % of the ventricle or more behind it and the rise is not above 5 times: was "
    "it sampled at 12 to 24 h?"};

bk_tri bk_out_of_proportion(const bk_side_by_side *in, const bk_evidence_set *evidence,
                            bool present[BK_DISPROPORTIONS])
{
    const double tenth = bk_evidence_value(evidence, BK_EVIDENCE("territory_small_rise"));
    const bool raised = bk_above(in->rise_x, bk_evidence_value(evidence, BK_EVIDENCE("udmi4_multiple")));
    const bool shortly = in->minutes_closed <= bk_evidence_value(evidence, BK_EVIDENCE("closure_minutes"));
    present[BK_NEVER_CLOSED] = raised && in->occluded == BK_NO;
    present[BK_CLOSED_SHORTLY] = raised && in->occluded == BK_YES && shortly && in->lost_at_end == BK_NO;
    present[BK_SMALL_TERRITORY] =
        bk_at_least(in->rise_x, bk_evidence_value(evidence, BK_EVIDENCE("arc2_multiple"))) &&
        in->mass_pct_high < tenth;
    present[BK_LESS_THAN_LOST] =
        !isnan(in->rise_x) && !raised && in->lost_at_end == BK_YES && bk_at_least(in->mass_pct_low, tenth);
    if (present[BK_NEVER_CLOSED] || present[BK_CLOSED_SHORTLY] || present[BK_SMALL_TERRITORY])
        return BK_YES;
    if (isnan(in->rise_x))
        return BK_UNKNOWN;
    if (!raised)
        return BK_NO;
    const bool closure_known =
        in->occluded == BK_YES && (in->lost_at_end == BK_YES || !isnan(in->minutes_closed));
    return closure_known && !isnan(in->mass_pct_high) ? BK_NO : BK_UNKNOWN;
}
