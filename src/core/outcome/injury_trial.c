/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Definitions with large multiples: SCAI, ARC-2 with Bif-ARC, and the primary one of a trial. */
#include "core/outcome/injury_inside.h"

#include <math.h>

#include "core/patient/lines.h"

/* ---- SCAI ---- */

/* The marker that decides: CK-MB where it was measured, else troponin. */
typedef struct marker {
    const char *name, *need_before, *need_peak;
    double before, peak;
    const char *alone, *with; /* rows */
} marker;

static marker scai_marker(const bk_injury_facts *f)
{
    if (!isnan(f->ckmb_peak))
        return (marker){"CK-MB",      "injury.ckmb_baseline_x", "injury.ckmb_peak_x",      f->ckmb_before,
                        f->ckmb_peak, BK_EVIDENCE("scai_ckmb"), BK_EVIDENCE("scai_ckmb_q")};
    return (marker){
        "troponin",       "injury.troponin_baseline_x", "injury.troponin_peak_x",      f->troponin_before,
        f->troponin_peak, BK_EVIDENCE("scai_troponin"), BK_EVIDENCE("scai_troponin_q")};
}

/* What keeps a definition from being asked at all; true: out holds it. */
static bool cannot(const bk_injury_facts *f, const marker *m, const char *why,
                   const bk_evidence_set *evidence, bk_defined *out)
{
    if (isnan(m->peak)) {
        bk_say(out, BK_VERDICT_NOT_CLASSIFIABLE, NULL, "no %s after the procedure", m->name);
        out->needs[0] = m->need_peak;
    } else if (isnan(m->before)) {
        bk_say(out, BK_VERDICT_NOT_CLASSIFIABLE, NULL, "%s: no sample before the procedure", m->name);
        out->needs[0] = m->need_before;
    } else if (bk_outside_window(f, evidence)) {
        bk_say(out, BK_VERDICT_NOT_CLASSIFIABLE, BK_EVIDENCE("udmi4_hours"),
               "the peak was taken %.0f h after, the definition counts within 48 h", f->hours_after);
    } else if (why) {
        bk_say(out, BK_VERDICT_NOT_CLASSIFIABLE, NULL, "%s", why);
        out->needs[0] = f->course == BK_COURSE_RISING ? NULL : "injury.baseline_course";
    } else {
        return false;
    }
    return true;
}

/* With a rising baseline SCAI asks for new ST shift and heart failure or hypotension besides. */
static bk_tri scai_rising(const bk_injury_facts *f, bk_defined *out)
{
    const bk_tri shift = f->ecg_ischaemia != BK_UNKNOWN ? f->ecg_ischaemia
                         : isnan(f->st_shift_mm)        ? BK_UNKNOWN
                         : f->st_shift_mm == 0          ? BK_NO
                                                        : BK_YES;
    if (shift == BK_NO || f->heart_failure_or_hypotension == BK_NO)
        return BK_NO;
    if (shift == BK_YES && f->heart_failure_or_hypotension == BK_YES)
        return BK_YES;
    out->needs[0] = shift == BK_UNKNOWN ? "injury.st_shift_mm" : "injury.heart_failure_or_hypotension";
    out->needs[1] = shift == BK_UNKNOWN && f->heart_failure_or_hypotension == BK_UNKNOWN
                        ? "injury.heart_failure_or_hypotension"
                        : NULL;
    return BK_UNKNOWN;
}

static void scai_lines(const bk_injury_facts *f, const marker *m, double rise, const char *of,
                       const bk_evidence_set *evidence, bk_defined *out)
{
    const double alone = bk_evidence_value(evidence, m->alone), with = bk_evidence_value(evidence, m->with);
    const bk_sign signs[] = {{f->q_waves, "new Q waves", "injury.new_q_waves"},
                             {f->lbbb, "new left bundle branch block", "injury.new_lbbb"}};
    const char *which;
    if (bk_at_least(rise, alone)) {
        bk_say(out, BK_VERDICT_MI, m->alone, "%s %s %.3g times, %g or more", m->name, of, rise, alone);
        return;
    }
    if (!bk_at_least(rise, with)) {
        bk_say(out, BK_VERDICT_NOT_MET, m->with, "%s %s %.3g times, below %g", m->name, of, rise, with);
        return;
    }
    bk_note_on(out, "the line with Q waves or bundle branch block is from memory, not verified");
    switch (bk_any(signs, 2, &which, out)) {
    case BK_YES:
        bk_say(out, BK_VERDICT_MI, m->with, "%s %s %.3g times, %g or more, with %s", m->name, of, rise, with,
               which);
        break;
    case BK_NO:
        bk_say(out, BK_VERDICT_NOT_MET, m->alone,
               "%s %s %.3g times, below %g and without Q waves or bundle branch block", m->name, of, rise,
               alone);
        break;
    case BK_UNKNOWN:
        bk_say(out, BK_VERDICT_DEPENDS, m->with,
               "%s %s %.3g times: infarction only with new Q waves or bundle branch block", m->name, of,
               rise);
        break;
    }
}

void bk_define_scai(const bk_injury_facts *f, const bk_evidence_set *evidence, bk_defined *out)
{
    const marker m = scai_marker(f);
    const char *why;
    const bk_baseline baseline = bk_baseline_of(f, m.before, evidence, &why);
    const bool rising = baseline == BK_BASELINE_RISING;
    if (cannot(f, &m, rising ? NULL : why, evidence, out))
        return;
    const bool raised = baseline != BK_BASELINE_NORMAL;
    scai_lines(f, &m, raised ? m.peak - m.before : m.peak, raised ? "rose by" : "peak", evidence, out);
    if (raised)
        bk_note_on(
            out, "the rule for a raised baseline, the same amounts as a rise, is from memory, not verified");
    if (!rising || out->verdict == BK_VERDICT_NOT_MET)
        return;
    switch (scai_rising(f, out)) {
    case BK_YES:
        break;
    case BK_NO:
        bk_say(out, BK_VERDICT_NOT_MET, BK_EVIDENCE("scai_raised"),
               "rising baseline: the rise is there, new ST shift together with heart failure or hypotension "
               "is not");
        break;
    case BK_UNKNOWN:
        bk_say(out, BK_VERDICT_DEPENDS, BK_EVIDENCE("scai_raised"),
               "rising baseline: infarction only with new ST shift and heart failure or hypotension");
        break;
    }
}

/* ---- ARC-2 and Bif-ARC ---- */

/* A lost side branch counts from a reference of 2.0 mm; words say how that came out. */
static bk_tri side_counts(const bk_injury_facts *f, const bk_evidence_set *evidence, bool *held,
                          bk_defined *out)
{
    const double line = bk_evidence_value(evidence, BK_EVIDENCE("arc2_vessel"));
    *held = false;
    if (f->side_lost_at_end != BK_YES)
        return f->side_lost_at_end;
    if (!bk_has(f->side_reference_mm))
        return BK_UNKNOWN;
    *held = bk_interval_holds(f->side_reference_mm, line, &out->certainty_pct);
    if (*held)
        return BK_UNKNOWN;
    if (isnan(f->side_reference_mm.sd))
        bk_note_on(out, "the side branch's reference has no SD: how certain 2.0 mm is cannot be said");
    return bk_at_least(f->side_reference_mm.value, line) ? BK_YES : BK_NO;
}

static void arc2_signs(const bk_injury_facts *f, double rise, const bk_evidence_set *evidence,
                       bk_defined *out)
{
    const double alone = bk_evidence_value(evidence, BK_EVIDENCE("arc2_significant"));
    bool held;
    const bk_tri side = side_counts(f, evidence, &held, out);
    const bk_sign signs[] = {{side, "a lost side branch of 2.0 mm or more",
                              f->side_lost_at_end == BK_UNKNOWN ? "injury.side_branch_timi_final"
                                                                : "injury.side_branch_reference_mm"},
                             {f->dissection == BK_DISSECTION_F ? BK_YES : f->flow_limiting,
                              "complication that limits flow in a major vessel",
                              "injury.flow_limiting_complication"},
                             {f->q_waves, "new Q waves", "injury.new_q_waves"},
                             {f->imaging_loss, "new wall motion abnormality", "injury.imaging_loss"}};
    const char *which;
    const bk_tri any = bk_any(signs, sizeof signs / sizeof signs[0], &which, out);
    const bool large = bk_at_least(rise, alone);
    if (any == BK_YES)
        bk_say(out, BK_VERDICT_MI, BK_EVIDENCE("arc2_multiple"), "troponin %.3g times, 35 or more, with %s",
               rise, which);
    else if (any == BK_UNKNOWN && held)
        bk_say(out, BK_VERDICT_DEPENDS, BK_EVIDENCE("arc2_vessel"),
               "troponin %.3g times with a lost side branch of %.2f mm (SD %.2f): its 90 %% interval holds "
               "2.0 mm, above it infarction, below it %s",
               rise, f->side_reference_mm.value, f->side_reference_mm.sd,
               large ? "significant injury" : "not met");
    else if (any == BK_UNKNOWN)
        bk_say(out, BK_VERDICT_DEPENDS, BK_EVIDENCE("arc2_multiple"),
               "troponin %.3g times: infarction if one of what is not known is there, else %s", rise,
               large ? "significant injury" : "not met");
    else if (large)
        bk_say(out, BK_VERDICT_SIGNIFICANT, BK_EVIDENCE("arc2_significant"),
               "troponin %.3g times, 70 or more, without any of the signs", rise);
    else
        bk_say(out, BK_VERDICT_NOT_MET, BK_EVIDENCE("arc2_multiple"),
               "troponin %.3g times, 35 or more, without any of the signs%s", rise,
               f->side_lost_at_end == BK_YES ? "; the lost side branch is below 2.0 mm" : "");
    if (large && any != BK_YES)
        bk_note_on(out, "the line of 70 times is from memory, not verified");
}

void bk_define_arc2(const bk_injury_facts *f, const bk_evidence_set *evidence, bk_defined *out)
{
    const marker m = {"troponin",
                      "injury.troponin_baseline_x",
                      "injury.troponin_peak_x",
                      f->troponin_before,
                      f->troponin_peak,
                      NULL,
                      NULL};
    const double line = bk_evidence_value(evidence, BK_EVIDENCE("arc2_multiple"));
    const char *why;
    const bk_baseline baseline = bk_baseline_of(f, m.before, evidence, &why);
    if (cannot(f, &m, why, evidence, out))
        return;
    const bool raised = baseline == BK_BASELINE_RAISED;
    const double rise = raised ? m.peak - m.before : m.peak;
    if (!bk_at_least(rise, line))
        bk_say(out, BK_VERDICT_NOT_MET, BK_EVIDENCE("arc2_multiple"), "troponin %s %.3g times, below 35",
               raised ? "rose by" : "peak", rise);
    else
        arc2_signs(f, rise, evidence, out);
    if (raised)
        bk_note_on(out,
                   "the rule for a raised baseline, the same amount as a rise, is from memory, not verified");
    if (f->side_lost_at_end == BK_NO && f->side_occluded == BK_YES)
        bk_note_on(
            out,
            "the side branch was open again at the end: it counts for the universal definition, not here");
}

/* ---- ISCHEMIA, primary ---- */

static bk_tri ecg_change(const bk_injury_facts *f, const bk_evidence_set *evidence)
{
    if (f->q_waves == BK_YES || f->lbbb == BK_YES)
        return BK_YES;
    if (bk_at_least(-f->st_shift_mm, bk_evidence_value(evidence, BK_EVIDENCE("ischemia_st"))))
        return BK_YES;
    const bool no_shift = f->ecg_ischaemia == BK_NO || !isnan(f->st_shift_mm);
    return no_shift && f->q_waves == BK_NO && f->lbbb == BK_NO ? BK_NO : BK_UNKNOWN;
}

/* Reduced flow or a dissection of type C and worse; of a side branch below 2.0 mm the wording was not found.
 */
static bk_tri reduced_flow(const bk_injury_facts *f, const bk_evidence_set *evidence, bool *small_branch)
{
    const double line = bk_evidence_value(evidence, BK_EVIDENCE("arc2_vessel"));
    double certainty;
    const bool large = bk_has(f->side_reference_mm) && bk_at_least(f->side_reference_mm.value, line) &&
                       !bk_interval_holds(f->side_reference_mm, line, &certainty);
    *small_branch = f->side_lost_at_end == BK_YES && !large;
    if (f->flow_limiting == BK_YES || f->dissection >= BK_DISSECTION_C ||
        (f->side_lost_at_end == BK_YES && large))
        return BK_YES;
    return f->side_lost_at_end == BK_NO && f->flow_limiting == BK_NO ? BK_NO : BK_UNKNOWN;
}

static void ischemia_signs(const bk_injury_facts *f, const marker *m, double with,
                           const bk_evidence_set *evidence, bk_defined *out)
{
    bool small_branch;
    const bk_sign signs[] = {{ecg_change(f, evidence), "a new ECG change", "injury.st_shift_mm"},
                             {reduced_flow(f, evidence, &small_branch), "reduced flow or dissection",
                              "injury.flow_limiting_complication"}};
    const char *which;
    switch (bk_any(signs, 2, &which, out)) {
    case BK_YES:
        bk_say(out, BK_VERDICT_MI, m->with, "%s %.3g times, above %g, with %s", m->name, m->peak, with,
               which);
        break;
    case BK_NO:
        bk_say(out, BK_VERDICT_NOT_MET, m->with,
               "%s %.3g times, above %g, without ECG change, reduced flow or dissection", m->name, m->peak,
               with);
        break;
    case BK_UNKNOWN:
        bk_say(out, BK_VERDICT_DEPENDS, m->with, "%s %.3g times, above %g: %s", m->name, m->peak, with,
               small_branch ? "infarction if a lost side branch that may be below 2.0 mm counts as reduced "
                              "flow; the wording for side branches was not found"
                            : "infarction if a new ECG change, reduced flow or dissection is there");
        break;
    }
    if (f->side_lost_at_end == BK_YES && out->verdict == BK_VERDICT_MI)
        bk_note_on(out, "the trial's wording for side branches was not found");
}

void bk_define_ischemia(const bk_injury_facts *f, const bk_evidence_set *evidence, bk_defined *out)
{
    const bool ckmb = !isnan(f->ckmb_peak);
    marker m = scai_marker(f);
    m.alone = ckmb ? BK_EVIDENCE("ischemia_ckmb_alone") : BK_EVIDENCE("ischemia_troponin_alone");
    m.with = ckmb ? BK_EVIDENCE("ischemia_ckmb") : BK_EVIDENCE("ischemia_troponin");
    const double alone = bk_evidence_value(evidence, m.alone), with = bk_evidence_value(evidence, m.with);
    const char *why;
    const bk_baseline baseline = bk_baseline_of(f, m.before, evidence, &why);
    if (cannot(f, &m, why, evidence, out))
        return;
    if (baseline == BK_BASELINE_RAISED) {
        bk_say(out, BK_VERDICT_NOT_CLASSIFIABLE, NULL,
               "raised baseline: what this definition asks then was not found");
        return;
    }
    if (bk_on_line(m.peak, with) || bk_on_line(m.peak, alone))
        bk_note_on(out, "exactly on a line: this definition counts above it");
    if (bk_above(m.peak, alone))
        bk_say(out, BK_VERDICT_MI, m.alone, "%s %.3g times, above %g alone", m.name, m.peak, alone);
    else if (!bk_above(m.peak, with))
        bk_say(out, BK_VERDICT_NOT_MET, m.with, "%s %.3g times, not above %g", m.name, m.peak, with);
    else
        ischemia_signs(f, &m, with, evidence, out);
}
