/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The universal definition, and the consensus that splits injury at the same five times. */
#include "core/outcome/injury_inside.h"

#include <math.h>

#include "core/patient/lines.h"

enum { UNIVERSAL_SIGNS = 5 };

/* ecg_ischaemia, or an ST shift of the size that the universal type of definition takes. */
static bk_tri ecg_of(const bk_injury_facts *f, const bk_evidence_set *evidence)
{
    if (f->ecg_ischaemia != BK_UNKNOWN || isnan(f->st_shift_mm))
        return f->ecg_ischaemia;
    return bk_at_least(-f->st_shift_mm, bk_evidence_value(evidence, BK_EVIDENCE("ischemia_st_secondary")))
               ? BK_YES
               : BK_UNKNOWN;
}

static bk_tri complication_of(const bk_injury_facts *f)
{
    if (f->flow_limiting == BK_YES || f->dissection == BK_DISSECTION_F) // type F is a total occlusion
        return BK_YES;
    return f->flow_limiting;
}

static void signs_of(const bk_injury_facts *f, const bk_evidence_set *evidence, bk_sign out[UNIVERSAL_SIGNS])
{
    out[0] = (bk_sign){f->side_occluded, "side branch occlusion", "injury.side_branch_occluded"};
    out[1] =
        (bk_sign){complication_of(f), "complication that limits flow", "injury.flow_limiting_complication"};
    out[2] = (bk_sign){ecg_of(f, evidence), "new ischaemic ECG changes", "injury.ecg_ischaemia"};
    out[3] = (bk_sign){f->q_waves, "new pathological Q waves", "injury.new_q_waves"};
    out[4] = (bk_sign){f->imaging_loss, "imaging of new loss of viable muscle", "injury.imaging_loss"};
}

/* Lines that the peak sits on, where sources differ. */
static void boundaries(const bk_injury_facts *f, bool raised, const bk_evidence_set *evidence,
                       bk_defined *out)
{
    if (bk_on_line(f->troponin_peak, bk_evidence_value(evidence, BK_EVIDENCE("udmi4_multiple"))))
        bk_note_on(
            out,
            "exactly 5 times: this definition counts above 5, the pooled analysis of 2021 counted from 5");
    if (raised && bk_on_line(100 * (f->troponin_peak / f->troponin_before - 1),
                             bk_evidence_value(evidence, BK_EVIDENCE("udmi4_rise"))))
        bk_note_on(
            out,
            "a rise of exactly 20 %: taken as not above; one copy of the definition prints 20 % and more");
}

/* What the marker alone says; false: out holds the answer already. */
static bool marker(const bk_injury_facts *f, const bk_evidence_set *evidence, bool *raised, bk_defined *out)
{
    const char *why;
    const bk_baseline baseline = bk_baseline_of(f, f->troponin_before, evidence, &why);
    *raised = baseline == BK_BASELINE_RAISED;
    if (baseline == BK_BASELINE_RISING)
        bk_say(out, BK_VERDICT_NOT_CLASSIFIABLE, BK_EVIDENCE("udmi4_rising"),
               "the baseline was rising: type 4a cannot be told from the index event");
    else if (why)
        bk_say(out, BK_VERDICT_NOT_CLASSIFIABLE, BK_EVIDENCE("udmi4_normal"), "%s", why);
    else if (isnan(f->troponin_peak))
        bk_say(out, BK_VERDICT_NOT_CLASSIFIABLE, NULL, "no troponin after the procedure");
    else if (bk_outside_window(f, evidence))
        bk_say(out, BK_VERDICT_NOT_CLASSIFIABLE, BK_EVIDENCE("udmi4_hours"),
               "the peak was taken %.0f h after, the definition counts within 48 h", f->hours_after);
    else
        return true;
    if (baseline == BK_BASELINE_NONE)
        out->needs[0] = "injury.troponin_baseline_x";
    else if (baseline == BK_BASELINE_OPEN)
        out->needs[0] = "injury.baseline_course";
    else if (isnan(f->troponin_peak))
        out->needs[0] = "injury.troponin_peak_x";
    return false;
}

/* Has the marker risen at all: above the limit, or by more than a fifth over a raised baseline? */
static bool risen(const bk_injury_facts *f, bool raised, const bk_evidence_set *evidence, bk_defined *out)
{
    const double rise = 100 * (f->troponin_peak / f->troponin_before - 1);
    if (raised && !bk_above(rise, bk_evidence_value(evidence, BK_EVIDENCE("udmi4_rise")))) {
        bk_say(out, BK_VERDICT_NONE, BK_EVIDENCE("udmi4_rise"),
               "raised baseline, change %+.0f %%: no rise above 20 %%", rise);
        return false;
    }
    if (!raised && !bk_above(f->troponin_peak, bk_evidence_value(evidence, BK_EVIDENCE("udmi4_normal")))) {
        bk_say(out, BK_VERDICT_NONE, BK_EVIDENCE("udmi4_normal"),
               "peak %.3g times, not above the 99th percentile", f->troponin_peak);
        return false;
    }
    return true;
}

/* small and large: injury up to and above five times; both definitions walk the same way. */
static void walk(const bk_injury_facts *f, const bk_evidence_set *evidence, bk_verdict small,
                 bk_verdict large, const char *clause, bk_defined *out)
{
    bool raised;
    const char *which;
    bk_sign signs[UNIVERSAL_SIGNS];
    if (!marker(f, evidence, &raised, out))
        return;
    boundaries(f, raised, evidence, out);
    if (!risen(f, raised, evidence, out))
        return;
    if (!bk_above(f->troponin_peak, bk_evidence_value(evidence, clause))) {
        bk_say(out, small, clause, "peak %.3g times: raised, not above 5 times%s", f->troponin_peak,
               raised ? ", whatever the rise" : "");
        if (f->q_waves == BK_YES)
            bk_note_on(
                out,
                "new Q waves with a troponin below 5 times meet type 4a by a clause known from memory only");
        return;
    }
    signs_of(f, evidence, signs);
    switch (bk_any(signs, UNIVERSAL_SIGNS, &which, out)) {
    case BK_YES:
        bk_say(out, BK_VERDICT_4A, clause, "peak %.3g times, above 5, with %s", f->troponin_peak, which);
        break;
    case BK_NO:
        bk_say(out, large, clause, "peak %.3g times, above 5, without any sign of ischaemia or complication",
               f->troponin_peak);
        break;
    case BK_UNKNOWN:
        bk_say(out, BK_VERDICT_DEPENDS, clause,
               "peak %.3g times, above 5: %s, or type 4a if one of what is not known is there",
               f->troponin_peak, large == BK_VERDICT_MAJOR ? "major injury" : "injury");
        break;
    }
}

void bk_define_udmi4(const bk_injury_facts *f, const bk_evidence_set *evidence, bk_defined *out)
{
    walk(f, evidence, BK_VERDICT_INJURY, BK_VERDICT_INJURY, BK_EVIDENCE("udmi4_multiple"), out);
}

void bk_define_eapci(const bk_injury_facts *f, const bk_evidence_set *evidence, bk_defined *out)
{
    walk(f, evidence, BK_VERDICT_MINOR, BK_VERDICT_MAJOR, BK_EVIDENCE("eapci2021_major"), out);
    if (f->infarction_before)
        bk_note_on(out, "written for chronic coronary syndrome");
    if (bk_above(f->troponin_before, bk_evidence_value(evidence, BK_EVIDENCE("udmi4_normal"))))
        bk_note_on(out, "written for a normal baseline; a raised one is read as in the universal definition");
}
