/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ask injury: all definitions side by side, the kidney, bleeding and stent thrombosis after, and the
 * follow-up sheet. */
#include "app/ask_injury.h"

#include <math.h>
#include <string.h>

#include "base/format.h"
#include "base/time.h"
#include "core/outcome/bleeding_after.h"
#include "core/outcome/thrombosis.h"

static const char *const courses[] = {"", "normal", "stable", "falling", "rising"};

/* ---- what is known ---- */

static void fill(bk_qty *entered, double value, const char *name, const char *unit, bk_answer *answer)
{
    if (!bk_has(*entered) && !isnan(value))
        *entered = bk_qty_of(value, (double)NAN, BK_DERIVED);
    const bk_fact fact = {*entered, BK_FROM_NOWHERE};
    bk_answer_input(answer, name, &fact, unit, -1);
}

static void note_labs(const bk_list *labs, double ended_min, bk_answer *answer)
{
    for (size_t i = 0; i < labs->n; i++) {
        const bk_lab *lab = &BK_ITEMS(*labs, bk_lab)[i];
        const bk_lab_fault fault = bk_lab_check(lab, ended_min);
        const char *nearest;
        char name[24];
        bk_format(name, sizeof name, "labs.%zu", i);
        if (fault == BK_LAB_UNKNOWN_TEST) {
            (void)bk_lab_test_of(lab->test, &nearest);
            bk_answer_caution(
                answer, "%s: test \"%.30s\" is not one that is used here, the nearest known one is \"%s\".",
                name, lab->test, nearest);
        } else if (fault == BK_LAB_IMPLAUSIBLE) {
            bk_answer_caution(answer,
                              "%s: %.30s %g %.20s? That cannot be meant in this unit; it is not used.", name,
                              lab->test, lab->value.value, lab->unit);
        } else if (fault != BK_LAB_USED && isnan(ended_min)) {
            bk_answer_missing(answer, "procedure.ended_at",
                              "without it no laboratory value is before or after");
        } else if (fault != BK_LAB_USED) {
            bk_answer_caution(answer,
                              "%s: %.30s %s (troponin: url_99, CK-MB: uln; mg/dL or umol/L; g/dL, g/L or "
                              "mmol/L) and is not used.",
                              name, lab->test, bk_lab_fault_words[fault]);
        }
    }
}

/* End of the procedure; NaN: not known. */
static double end_of(const bk_patient_asked *in, bk_answer *answer)
{
    const char *text = in->c->procedure.ended_at;
    double minutes;
    if (bk_time_minutes(text, &minutes))
        return minutes;
    if (text[0])
        bk_answer_caution(
            answer,
            "procedure.ended_at: \"%s\" was found, a time as 2026-11-25T14:05 was expected; it is not used.",
            text);
    if (!isnan(in->live.last_event_min) && in->c->labs.n > 0)
        bk_answer_caution(answer, "procedure.ended_at was not said: the last event of the log is taken as "
                                  "the end of the procedure.");
    return in->live.last_event_min;
}

/* The side branch's reference where none was entered for the injury; both with the shared scale in their SD.
 */
static bk_qty side_reference(const bk_facts *facts, bk_qty entered)
{
    bk_qty q = bk_has(entered) ? entered : facts->limb[BK_SIDE].reference_mm.q;
    q.sd = bk_has(q) ? bk_fact_sd(q, facts->scale_sd_pct) : (double)NAN;
    return q;
}

static bk_injury_asked gather(const bk_asked *asked, bk_answer *answer)
{
    const bk_evidence_set *evidence = bk_evidence_builtin();
    bk_injury_asked out = {.patient = bk_patient_asked_of(asked, answer), .in = asked->c->injury};
    const bk_list *labs = &asked->c->labs;
    bk_injury_input *in = &out.in;
    out.ended_min = end_of(&out.patient, answer);
    out.before_mg_dl = bk_creatinine_mg_dl(&asked->c->patient, evidence);
    out.troponin = bk_lab_marker_of(labs, BK_LAB_TROPONIN, out.ended_min, evidence);
    const bk_lab_marker ckmb = bk_lab_marker_of(labs, BK_LAB_CKMB, out.ended_min, evidence);
    if (!bk_has(in->hours_after) && !bk_has(in->troponin_peak_x))
        fill(&in->hours_after, out.troponin.peak_hours, "injury.hours_after", "h", answer);
    fill(&in->hours_after, (double)NAN, "injury.hours_after", "h", answer);
    if (in->baseline_course == BK_COURSE_NOT_SAID && !bk_has(in->troponin_baseline_x))
        in->baseline_course = out.troponin.course;
    fill(&in->troponin_baseline_x, out.troponin.before, "injury.troponin_baseline_x", "x", answer);
    fill(&in->troponin_peak_x, out.troponin.peak, "injury.troponin_peak_x", "x", answer);
    fill(&in->ckmb_baseline_x, ckmb.before, "injury.ckmb_baseline_x", "x", answer);
    fill(&in->ckmb_peak_x, ckmb.peak, "injury.ckmb_peak_x", "x", answer);
    fill(&in->occlusion_minutes, out.patient.live.side_closed_min, "injury.occlusion_minutes", "min", answer);
    fill(&in->bleeding.haemoglobin_drop_g_dl, bk_lab_haemoglobin_drop(labs, out.ended_min, evidence),
         "injury.bleeding.haemoglobin_drop_g_dl", "g/dL", answer);
    if (in->side_branch_occluded == BK_UNKNOWN && out.patient.live.side_closed_min > 0)
        in->side_branch_occluded = BK_YES;
    if (in->side_branch_timi_final == BK_INTEGER_ABSENT && !isnan(out.patient.live.side_timi_last))
        in->side_branch_timi_final = (int)out.patient.live.side_timi_last;
    in->side_branch_reference_mm = side_reference(asked->facts, in->side_branch_reference_mm);
    fill(&in->side_branch_reference_mm, (double)NAN, "injury.side_branch_reference_mm", "mm", answer);
    if (in->baseline_course)
        bk_answer_input_text(answer, "injury.baseline_course", courses[in->baseline_course],
                             asked->c->injury.baseline_course ? "entered" : "derived");
    out.facts = bk_injury_facts_of(in, asked->c->patient.presentation, bk_qty_absent());
    note_labs(labs, out.ended_min, answer);
    return out;
}

/* ---- the parts ---- */

static void ask_of_markers(const bk_injury_asked *in, bk_json *list)
{
    char text[240];
    const double before = in->facts.troponin_before, peak = in->facts.troponin_peak;
    const bool entered =
        bk_has(in->patient.c->injury.troponin_peak_x) || bk_has(in->patient.c->injury.troponin_baseline_x);
    if (entered && (peak > 2000 || before > 100)) {
        const bool after = peak > 2000;
        bk_format(
            text, sizeof text,
            "troponin %s %g times the 99th percentile? a value in ng/L has to be divided by the assay's "
            "limit first",
            after ? "after" : "before", after ? peak : before);
        bk_json_push(list, bk_json_new_text(text));
    }
    if (in->patient.c->injury.side_branch_occluded == BK_NO &&
        (in->in.side_branch_timi_final == 0 || in->in.side_branch_timi_after_stent == 0))
        bk_json_push(
            list,
            bk_json_new_text(
                "the side branch was said not to be occluded, and its TIMI grade is 0: which of the two?"));
    if (in->patient.c->injury.baseline_course == BK_COURSE_NORMAL && before > 1)
        bk_json_push(list,
                     bk_json_new_text(
                         "the baseline was said to be normal, and it is above its limit: which of the two?"));
    if (peak < before)
        bk_json_push(list,
                     bk_json_new_text("the peak troponin is below the one before: is the order right?"));
}

static bk_json *questions(const bk_injury_asked *in)
{
    bk_json *list = bk_patient_questions(&in->patient);
    ask_of_markers(in, list);
    return list;
}

static bk_json *texts(const char *const *list, size_t room)
{
    bk_json *out = bk_json_array();
    for (size_t i = 0; i < room && list[i]; i++)
        bk_json_push(out, bk_json_new_text(list[i]));
    return out;
}

static bk_json *definitions(const bk_injury_asked *in, bk_answer *answer)
{
    bk_defined all[BK_DEFINITIONS];
    bk_json *list = bk_json_array();
    bk_injury_define(&in->facts, bk_evidence_builtin(), all);
    for (int d = 0; d < BK_DEFINITIONS; d++) {
        const bk_evidence *clause = all[d].clause ? bk_patient_row(all[d].clause) : NULL;
        bk_json *out = bk_json_object();
        bk_json_put_text(out, "id", bk_definition_ids[d]);
        bk_json_put_text(out, "name", bk_definition_names[d]);
        bk_json_put_text(out, "verdict", bk_verdict_words[all[d].verdict]);
        bk_json_put_text(out, "why", all[d].why);
        bk_json_put_text(out, "clause", clause ? clause->text : NULL);
        bk_json_put_text(out, "source", all[d].clause);
        bk_json_put_text(out, "standing", clause ? bk_standing_name(clause->standing) : NULL);
        bk_json_put(out, "notes", texts(all[d].notes, BK_INJURY_NOTES_MAX));
        bk_json_put(out, "needs", texts(all[d].needs, sizeof all[d].needs / sizeof all[d].needs[0]));
        if (d == BK_ARC2)
            bk_json_put_fixed(out, "side_at_least_2mm_certainty_pct", all[d].certainty_pct, 0);
        bk_json_push(list, out);
        if (all[d].clause)
            bk_answer_source(answer, all[d].clause);
        for (size_t i = 0; i < sizeof all[d].needs / sizeof all[d].needs[0] && all[d].needs[i]; i++)
            bk_answer_missing(
                answer, all[d].needs[i],
                strcmp(all[d].needs[i], "injury.side_branch_reference_mm") == 0 &&
                        bk_has(in->facts.side_reference_mm)
                    ? "known, but its 90 % interval holds 2.0 mm: a more exact one would settle ARC-2"
                    : "not known; it would settle a definition of injury");
    }
    return list;
}

static bk_json *bleeding(const bk_injury_asked *in, bk_answer *answer)
{
    const bk_barc barc = bk_barc_of(&in->in.bleeding, bk_evidence_builtin());
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "barc", barc.type);
    bk_json_put_text(out, "why", barc.why);
    bk_json_put_fixed(out, "haemoglobin_drop_g_dl", barc.drop_g_dl, 2);
    bk_json_put_text(out, "text", barc.row ? bk_patient_row(barc.row)->text : NULL);
    bk_json_put_text(out, "standing", barc.row ? bk_standing_name(bk_patient_row(barc.row)->standing) : NULL);
    if (barc.row)
        bk_answer_source(answer, barc.row);
    if (in->in.bleeding.transfused_units != BK_INTEGER_ABSENT)
        bk_answer_source(answer, BK_EVIDENCE("barc_transfusion"));
    if (!barc.type && in->in.bleeding.overt == BK_UNKNOWN)
        bk_answer_missing(answer, "injury.bleeding.overt", "whether there was bleeding was not said");
    return out;
}

static bk_json *thrombosis(const bk_injury_asked *in, bk_answer *answer)
{
    static const char *const places[] = {NULL, "main", "side"};
    const bk_thrombosis t = bk_thrombosis_of(&in->in.thrombosis, bk_evidence_builtin());
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "class", t.kind);
    bk_json_put_text(out, "timing", t.timing);
    bk_json_put_text(out, "stent", places[in->in.thrombosis.stent]);
    bk_json_put_text(out, "why", t.why);
    bk_json_put_text(out, "standing", t.row ? bk_standing_name(bk_patient_row(t.row)->standing) : NULL);
    if (t.row)
        bk_answer_source(answer, t.row);
    return out;
}

static void notes(const bk_injury_asked *in, bk_answer *answer)
{
    static const char *const rows[] = {BK_EVIDENCE("udmi4_multiple"), BK_EVIDENCE("eapci2021_major"),
                                       BK_EVIDENCE("scai_ckmb"),      BK_EVIDENCE("scai_raised"),
                                       BK_EVIDENCE("arc2_multiple"),  BK_EVIDENCE("arc2_vessel"),
                                       BK_EVIDENCE("ischemia_ckmb"),  BK_EVIDENCE("ischemia_share")};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        bk_answer_source(answer, rows[i]);
    if (in->troponin.assay_changed)
        bk_answer_caution(
            answer, "Troponin: limit, unit or test differ between the samples; each multiple is of its own "
                    "limit, and a rise between them cannot be relied on.");
    if (isnan(in->facts.hours_after) && !isnan(in->facts.troponin_peak))
        bk_answer_missing(answer, "injury.hours_after",
                          "every definition counts within 48 h; the time of the peak was not said");
    bk_answer_caution(
        answer,
        "Definitions differ tenfold in how often they are met: all stand side by side, none is the verdict.");
    bk_answer_caution(answer, "Multiples are of the assay's own limit: the 99th percentile for troponin, the "
                              "upper limit of normal for CK-MB.");
}

void bk_answer_injury(const bk_asked *asked, bk_answer *answer)
{
    const bk_injury_asked in = gather(asked, answer);
    bk_json_put(answer->json, "questions", questions(&in));
    bk_json_put(answer->json, "definitions", definitions(&in, answer));
    bk_json_put(answer->json, "kidney_injury", bk_injury_kidney(&in, answer));
    bk_json_put(answer->json, "bleeding", bleeding(&in, answer));
    bk_json_put(answer->json, "stent_thrombosis", thrombosis(&in, answer));
    bk_json_put(answer->json, "territory_note", bk_injury_territory(&in, answer));
    bk_json_put(answer->json, "follow_up", bk_follow_up(&in, answer));
    notes(&in, answer);
}
