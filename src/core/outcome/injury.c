/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/outcome/injury_inside.h"

#include <math.h>
#include <stdarg.h>

#include "base/format.h"
#include "core/num.h"
#include "core/patient/lines.h"

const char *const bk_definition_ids[BK_DEFINITIONS] = {"udmi4", "eapci2021", "scai2014", "arc2",
                                                       "ischemia_primary"};
const char *const bk_definition_names[BK_DEFINITIONS] = {
    "Universal, fourth (2018)", "ESC/EAPCI consensus (2021)", "SCAI (2013/14)",
    "ARC-2 with Bif-ARC (2018/2023)", "ISCHEMIA, primary (2021)"};
const char *const bk_verdict_words[] = {
    "none",    "injury",  "minor_injury",    "major_injury", "type_4a", "mi", "significant_injury",
    "not_met", "depends", "not_classifiable"};

/* ---- facts ---- */

static bool closed(int timi)
{
    return timi == 0;
}

static bk_tri occluded_of(const bk_injury_input *in)
{
    const int after = in->side_branch_timi_after_stent, final = in->side_branch_timi_final;
    if (in->side_branch_occluded != BK_UNKNOWN || closed(in->side_branch_timi_before))
        return in->side_branch_occluded; // closed before: the procedure did not do it
    if (closed(after) || closed(final))
        return BK_YES;
    return after != BK_INTEGER_ABSENT && final != BK_INTEGER_ABSENT ? BK_NO : BK_UNKNOWN;
}

/* Flow below TIMI 3 at the end that was there before. */
static bk_tri lost_at_end(const bk_injury_input *in, bk_tri occluded)
{
    const int before = in->side_branch_timi_before, final = in->side_branch_timi_final;
    if (final == BK_INTEGER_ABSENT)
        return occluded; // said to be occluded and nothing said of it opening again
    if (final == 3 || (before != BK_INTEGER_ABSENT && final >= before))
        return BK_NO;
    return BK_YES;
}

bk_injury_facts bk_injury_facts_of(const bk_injury_input *in, int presentation, bk_qty side_reference_mm)
{
    const bk_tri occluded = occluded_of(in);
    return (bk_injury_facts){.troponin_before = bk_value(in->troponin_baseline_x),
                             .troponin_peak = bk_value(in->troponin_peak_x),
                             .ckmb_before = bk_value(in->ckmb_baseline_x),
                             .ckmb_peak = bk_value(in->ckmb_peak_x),
                             .hours_after = bk_value(in->hours_after),
                             .course = in->baseline_course,
                             .infarction_before = presentation >= BK_NSTEMI,
                             .q_waves = in->new_q_waves,
                             .lbbb = in->new_lbbb,
                             .ecg_ischaemia = in->ecg_ischaemia,
                             .imaging_loss = in->imaging_loss,
                             .st_shift_mm = bk_value(in->st_shift_mm),
                             .side_occluded = occluded,
                             .side_lost_at_end = lost_at_end(in, occluded),
                             .side_reference_mm = bk_has(in->side_branch_reference_mm)
                                                      ? in->side_branch_reference_mm
                                                      : side_reference_mm,
                             .flow_limiting = in->flow_limiting_complication,
                             .heart_failure_or_hypotension = in->heart_failure_or_hypotension,
                             .dissection = in->dissection_grade};
}

/* ---- shared with the definitions ---- */

void bk_say(bk_defined *out, bk_verdict verdict, const char *clause, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    bk_format_list(out->why, sizeof out->why, format, args);
    va_end(args);
    out->verdict = verdict;
    out->clause = clause;
}

void bk_note_on(bk_defined *out, const char *note)
{
    for (size_t i = 0; i + 1 < BK_INJURY_NOTES_MAX; i++)
        if (!out->notes[i]) {
            out->notes[i] = note;
            return;
        }
}

bk_tri bk_any(const bk_sign *signs, size_t n, const char **which, bk_defined *out)
{
    size_t open = 0;
    *which = NULL;
    for (size_t i = 0; i < n; i++)
        if (signs[i].present == BK_YES) {
            *which = signs[i].words;
            return BK_YES;
        }
    for (size_t i = 0; i < n; i++)
        if (signs[i].present == BK_UNKNOWN && open + 1 < sizeof out->needs / sizeof out->needs[0])
            out->needs[open++] = signs[i].input;
    return open ? BK_UNKNOWN : BK_NO;
}

bk_baseline bk_baseline_of(const bk_injury_facts *f, double before, const bk_evidence_set *evidence,
                           const char **why)
{
    const double normal = bk_evidence_value(evidence, BK_EVIDENCE("udmi4_normal"));
    *why = NULL;
    if (isnan(before)) {
        *why = "no sample before the procedure: not classifiable";
        return BK_BASELINE_NONE;
    }
    if (f->course == BK_COURSE_RISING) {
        *why = "the baseline was rising: what the procedure did cannot be told from the index event";
        return BK_BASELINE_RISING;
    }
    if (f->course == BK_COURSE_NOT_SAID && f->infarction_before) {
        *why = "an infarction was running and the course of the baseline was not said: it may be rising";
        return BK_BASELINE_OPEN;
    }
    if (!bk_above(before, normal))
        return BK_BASELINE_NORMAL;
    if (f->course == BK_COURSE_STABLE || f->course == BK_COURSE_FALLING)
        return BK_BASELINE_RAISED;
    *why = f->course == BK_COURSE_NORMAL
               ? "the baseline was said to be normal and is above its limit: check both"
               : "the baseline is raised and its course (stable, falling, rising) was not said";
    return BK_BASELINE_OPEN;
}

bool bk_outside_window(const bk_injury_facts *f, const bk_evidence_set *evidence)
{
    return bk_above(f->hours_after, bk_evidence_value(evidence, BK_EVIDENCE("udmi4_hours")));
}

bool bk_interval_holds(bk_qty q, double line, double *certainty_pct)
{
    *certainty_pct = (double)NAN;
    if (!bk_has(q) || isnan(q.sd) || q.sd <= 0)
        return false;
    const double half = bk_normal_quantile(0.5 + BK_LEVEL_PCT / 200.0) * q.sd;
    *certainty_pct = 100 * bk_normal_cdf((q.value - line) / q.sd);
    return q.value - half <= line && line <= q.value + half;
}

void bk_injury_define(const bk_injury_facts *facts, const bk_evidence_set *evidence,
                      bk_defined out[BK_DEFINITIONS])
{
    for (int i = 0; i < BK_DEFINITIONS; i++)
        out[i] = (bk_defined){.verdict = BK_VERDICT_NOT_CLASSIFIABLE, .certainty_pct = (double)NAN};
    bk_define_udmi4(facts, evidence, &out[BK_UDMI4]);
    bk_define_eapci(facts, evidence, &out[BK_EAPCI2021]);
    bk_define_scai(facts, evidence, &out[BK_SCAI2014]);
    bk_define_arc2(facts, evidence, &out[BK_ARC2]);
    bk_define_ischemia(facts, evidence, &out[BK_ISCHEMIA_PRIMARY]);
}
