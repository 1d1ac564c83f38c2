/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `ask indication`: what speaks for treating at all, as it stands in the case; measured physiology first. It reads
   out and asks, it does not decide. */
#include "app/ask_indication.h"

#include <math.h>

#include "app/ffr_outlook.h"
#include "base/format.h"
#include "core/num.h"

#define TEXT 240

static const char *const not_recorded = "not recorded";

/* ---- what both files look at ---- */

bk_pressure_read bk_indication_pressure(const bk_case *c, int limb)
{
    bk_pressure_read out = {NULL, NULL, false};
    for (size_t i = 0; i < c->physiology.n; i++) {
        const bk_physiology *p = &BK_ITEMS(c->physiology, bk_physiology)[i];
        const bool before = p->stage == BK_STAGE_BASELINE || p->stage == BK_STAGE_NOT_SAID;
        if (before && bk_has(p->value) && p->index > 0 && (limb == BK_LIMBS || p->limb - 1 == limb))
            out.p = p;
    }
    if (!out.p)
        return out;
    out.line_row = out.p->index == 1 ? BK_EVIDENCE("indication_ffr_line") : BK_EVIDENCE("indication_resting_line");
    out.at_or_below = out.p->value.value <= bk_evidence_value(bk_evidence_builtin(), out.line_row);
    return out;
}

bk_tri bk_indication_heart_team_asked(const bk_case *c)
{
    const int vessels = c->indication.diseased_vessels, diabetes = c->patient.diabetes;
    if (c->anatomy.site == BK_LEFT_MAIN)
        return BK_YES;
    const double several = bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("indication_several_vessels"));
    const bk_tri many = vessels == BK_INTEGER_ABSENT ? BK_UNKNOWN : vessels >= several ? BK_YES : BK_NO;
    const bk_tri diabetic = diabetes == BK_DIABETES_NOT_SAID ? BK_UNKNOWN : diabetes > BK_DIABETES_NONE ? BK_YES : BK_NO;
    const bk_tri other = many == BK_NO || diabetic == BK_NO                ? BK_NO
                         : many == BK_YES && diabetic == BK_YES ? BK_YES
                                                                : BK_UNKNOWN;
    return c->anatomy.site == BK_SITE_NOT_SAID && other == BK_NO ? BK_UNKNOWN : other;
}

double bk_indication_tightest_pct(const bk_facts *facts)
{
    double out = (double)NAN;
    for (int limb = 0; limb < BK_LIMBS; limb++)
        if (bk_has(facts->limb[limb].stenosis_pct.q))
            out = fmax(out, facts->limb[limb].stenosis_pct.q.value); // fmax passes over NaN
    return out;
}

/* ---- reads ---- */

static bk_json *put_read(bk_json *list, bk_answer *answer, const char *id, const char *text, const char *value,
                         const char *row_id)
{
    const bk_evidence *row = bk_evidence_find(bk_evidence_builtin(), row_id);
    bk_json *read = bk_json_object();
    bk_json_put_text(read, "id", id);
    bk_json_put_text(read, "text", text);
    bk_json_put_text(read, "value", value);
    bk_json_put_text(read, "source", row->id);
    bk_json_put_text(read, "says", row->text);
    bk_json_put_text(read, "standing", bk_standing_name(row->standing));
    bk_json_push(list, read);
    bk_answer_source(answer, row->id);
    return read;
}

static const char *said(bk_tri tri)
{
    return tri == BK_UNKNOWN ? not_recorded : bk_tri_name(tri);
}

/* "FFR 0.78 in the distal main vessel: at or below 0.80" */
static void read_pressure(const bk_case *c, bk_json *list, bk_answer *answer)
{
    static const char *const limbs[] = {"in a limb that was not said", "in the proximal main vessel", "in the distal main vessel",
                                        "in the side branch", "in the extra limb"};
    char text[TEXT];
    for (size_t i = 0; i < c->physiology.n; i++) {
        const bk_physiology *p = &BK_ITEMS(c->physiology, bk_physiology)[i];
        if (!bk_has(p->value) || p->index == 0)
            continue;
        const char *row = p->index == 1 ? BK_EVIDENCE("indication_ffr_line") : BK_EVIDENCE("indication_resting_line");
        const double line = bk_evidence_value(bk_evidence_builtin(), row);
        bk_format(text, sizeof text, "%s measured %s%s%s: %s %.2f", p->index == 1 ? "FFR" : "resting ratio", limbs[p->limb],
                  p->stage > 0 ? ", " : "", p->stage > 0 ? bk_stage_words[p->stage] : "",
                  p->value.value <= line ? "at or below" : "above", line);
        bk_json *read = put_read(list, answer, "measured_physiology", text, NULL, row);
        bk_json_put_fixed(read, "value", p->value.value, 2);
        bk_json_put_fixed(read, "drift", bk_has(p->drift) ? p->drift.value : (double)NAN, 2);
    }
    if (bk_json_count(list) == 0)
        (void)put_read(list, answer, "measured_physiology", "pressure measured by wire", not_recorded,
                 BK_EVIDENCE("indication_ffr_line"));
}

static void read_symptoms(const bk_case *c, bk_json *list, bk_answer *answer)
{
    static const char *const presentations[] = {"not recorded", "chronic", "unstable angina", "NSTEMI", "STEMI", "shock", "arrest"};
    static const char *const symptoms[] = {"not recorded", "none", "exertional", "at rest", "equivalent of angina"};
    static const char *const tests[] = {"not recorded", "not done", "negative", "positive", "inconclusive"};
    const bk_indication_input *in = &c->indication;
    char value[TEXT], more[80] = "";
    (void)put_read(list, answer, "presentation", "presentation", presentations[c->patient.presentation],
             BK_EVIDENCE("indication_acute"));
    bk_format(value, sizeof value, "%s%s", symptoms[in->symptoms],
              in->symptoms_on_drugs == BK_YES  ? ", in spite of drugs"
              : in->symptoms_on_drugs == BK_NO ? ", drugs not used up"
                                               : "");
    (void)put_read(list, answer, "symptoms", "symptoms", value, BK_EVIDENCE("indication_symptoms"));
    if (bk_has(in->ischaemic_mass_pct))
        bk_format(more, sizeof more, ", %.0f %% of the left ventricle", in->ischaemic_mass_pct.value);
    bk_format(value, sizeof value, "%s%s%s", tests[in->ischaemia_test], more,
              in->test_matches == BK_YES  ? ", in this territory"
              : in->test_matches == BK_NO ? ", elsewhere"
                                          : "");
    (void)put_read(list, answer, "ischaemia", "non-invasive test for ischaemia", value,
             bk_has(in->ischaemic_mass_pct) ? BK_EVIDENCE("indication_mass") : BK_EVIDENCE("indication_untested"));
}

static void read_anatomy(const bk_asked *asked, const bk_json *ffr, bk_json *list, bk_answer *answer)
{
    char value[TEXT];
    const double tightest = bk_indication_tightest_pct(asked->facts);
    if (ffr)
        bk_format(value, sizeof value, "%.2f (%.2f to %.2f, %d %%)", bk_json_number(bk_json_get(ffr, "value")),
                  bk_json_number(bk_json_get(ffr, "low")), bk_json_number(bk_json_get(ffr, "high")), BK_LEVEL_PCT);
    (void)put_read(list, answer, "computed_ffr", "FFR computed in the distal main vessel; a measured one leads",
             ffr ? value : "cannot say", BK_EVIDENCE("flow_class_trial"));
    if (!isnan(tightest))
        bk_format(value, sizeof value, "%.0f %%", tightest);
    (void)put_read(list, answer, "stenosis", "tightest of the three limbs", isnan(tightest) ? "not known" : value,
             BK_EVIDENCE("indication_anatomy_misleads"));
}

static void read_extent(const bk_case *c, bk_json *list, bk_answer *answer)
{
    static const char *const sites[] = {"site not recorded", "left main", "LAD and diagonal", "circumflex and marginal",
                                        "crux of the RCA", "other site"};
    static const char *const contexts[] = {"not recorded", "native vessel", "in a stent", "chronic occlusion", "graft anastomosis"};
    static const char *const diabetes[] = {"diabetes not recorded", "no diabetes", "diabetes on tablets", "diabetes on insulin"};
    char value[TEXT], vessels[60] = "number of diseased vessels not recorded";
    if (c->indication.diseased_vessels != BK_INTEGER_ABSENT)
        bk_format(vessels, sizeof vessels, "%d diseased vessel%s", c->indication.diseased_vessels,
                  c->indication.diseased_vessels == 1 ? "" : "s");
    bk_format(value, sizeof value, "%s; %s; %s", sites[c->anatomy.site], vessels, diabetes[c->patient.diabetes]);
    (void)put_read(list, answer, "extent", "extent of disease", value, BK_EVIDENCE("indication_several_vessels"));
    (void)put_read(list, answer, "heart_team",
             bk_indication_heart_team_asked(c) == BK_YES ? "decision of a heart team, which this extent asks for"
                                                         : "decision of a heart team",
             said(c->indication.heart_team), BK_EVIDENCE("indication_heart_team"));
    (void)put_read(list, answer, "context", "context of the lesion", contexts[c->anatomy.context], BK_EVIDENCE("scope_of_models"));
    (void)put_read(list, answer, "viability", "viable muscle behind the side branch", said(c->anatomy.viable),
             BK_EVIDENCE("indication_occlusion_viability"));
    (void)put_read(list, answer, "last_patent_vessel", "last patent vessel", said(c->anatomy.last_patent_vessel),
             BK_EVIDENCE("indication_heart_team"));
}

static void read_drugs(const bk_case *c, bk_json *list, bk_answer *answer)
{
    (void)put_read(list, answer, "dapt", "able to take two antiplatelet drugs", said(c->indication.dapt_possible),
             BK_EVIDENCE("indication_drugs"));
    (void)put_read(list, answer, "oac", "oral anticoagulant", said(c->patient.oral_anticoagulation), BK_EVIDENCE("indication_drugs"));
    (void)put_read(list, answer, "surgery", "surgery planned that cannot wait", said(c->patient.bleeding_history.surgery_planned),
             BK_EVIDENCE("indication_drugs"));
}

void bk_answer_indication(const bk_asked *asked, bk_answer *answer)
{
    bk_json *reads = bk_json_array(), *outlook = bk_ffr_outlook(asked);
    const bk_json *ffr = bk_ffr_before(outlook, BK_DISTAL);
    read_pressure(asked->c, reads, answer);
    read_symptoms(asked->c, reads, answer);
    read_anatomy(asked, ffr, reads, answer);
    read_extent(asked->c, reads, answer);
    read_drugs(asked->c, reads, answer);
    bk_json_put(answer->json, "reads", reads);
    bk_indication_put_questions(asked, ffr, answer);
    for (int limb = 0; limb < BK_LIMBS; limb++)
        bk_answer_input(answer,
                        (const char *const[]){"anatomy.segments.proximal.stenosis_pct",
                                              "anatomy.segments.distal.stenosis_pct",
                                              "anatomy.segments.side.stenosis_pct"}[limb],
                        &asked->facts->limb[limb].stenosis_pct, "%", asked->facts->measurement);
    if (!ffr)
        bk_answer_missing(answer, "reads.computed_ffr", "what it needs is said in the answer on flow");
    bk_answer_caution(answer, "Read out, not decided: whether to treat is for the operator, the patient and the heart team.");
    bk_json_free(outlook);
}
