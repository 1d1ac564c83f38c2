/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Of `ask indication`: what is still open, most telling first. */
#include <math.h>

#include "app/ask_indication.h"
#include "base/format.h"

#define TEXT 240

static void ask(bk_json *list, bk_answer *answer, const char *row_id, const char *text)
{
    bk_json_push(list, bk_json_new_text(text));
    bk_answer_source(answer, row_id);
}

static bool acute(int presentation)
{
    return presentation >= BK_UNSTABLE;
}

/* Stable disease: what is treated, and on what proof? */
static void ask_proof(const bk_asked *asked, const bk_json *ffr, bk_json *list, bk_answer *answer)
{
    const bk_case *c = asked->c;
    const bk_pressure_read read = bk_indication_pressure(c, BK_LIMBS);
    const double tightest = bk_indication_tightest_pct(asked->facts);
    const double half = bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("indication_stenosis_line"));
    const double line = bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("indication_ffr_line"));
    const int test = c->indication.ischaemia_test;
    char text[TEXT];
    if (!read.p && test != BK_TEST_POSITIVE)
        ask(list, answer, BK_EVIDENCE("indication_untested"),
            "No pressure reading and no positive test for ischaemia is recorded: what shows that this stenosis does harm?");
    if (read.p && !read.at_or_below && tightest >= half) {
        bk_format(text, sizeof text, "The pressure reading lies above its line and the stenosis is %.0f %%: measured physiology "
                                     "leads, so what is to be treated?", tightest);
        ask(list, answer, BK_EVIDENCE("indication_anatomy_misleads"), text);
    }
    if (read.p && read.at_or_below && c->indication.symptoms == BK_SYMPTOMS_NONE)
        ask(list, answer, BK_EVIDENCE("indication_symptoms"),
            "The pressure reading is at or below its line and there are no symptoms: what is to be gained?");
    if (!read.p && ffr && bk_json_number(bk_json_get(ffr, "low")) <= line && bk_json_number(bk_json_get(ffr, "high")) > line)
        ask(list, answer, BK_EVIDENCE("flow_class_trial"),
            "The interval of the computed FFR holds the line of 0.80: a pressure wire would settle it.");
    if (test == BK_TEST_POSITIVE && c->indication.test_matches != BK_YES)
        ask(list, answer, BK_EVIDENCE("indication_symptoms"), "Does the ischaemia lie in the territory of this bifurcation?");
    if (c->indication.symptoms == BK_SYMPTOMS_NOT_SAID)
        ask(list, answer, BK_EVIDENCE("indication_symptoms"), "Are there symptoms?");
    else if (c->indication.symptoms != BK_SYMPTOMS_NONE && c->indication.symptoms_on_drugs == BK_UNKNOWN)
        ask(list, answer, BK_EVIDENCE("indication_symptoms"), "Do the symptoms persist on antianginal drugs?");
}

static void ask_extent(const bk_case *c, bk_json *list, bk_answer *answer)
{
    const bk_tri asked = bk_indication_heart_team_asked(c);
    if (asked == BK_YES && c->indication.heart_team != BK_YES)
        ask(list, answer, BK_EVIDENCE("indication_heart_team"),
            c->indication.heart_team == BK_NO ? "Extent for which a heart team is asked, and it has not decided: is it to be asked?"
                                              : "Extent for which a heart team is asked: its decision is not recorded.");
    if (asked == BK_UNKNOWN)
        ask(list, answer, BK_EVIDENCE("indication_heart_team"),
            "Site, diseased vessels and diabetes are not all recorded: is a heart team asked?");
    if (c->anatomy.context == BK_IN_STENT || c->anatomy.context == BK_CTO || c->anatomy.context == BK_GRAFT_ANASTOMOSIS)
        ask(list, answer, BK_EVIDENCE("scope_of_models"),
            "In a stent, an occlusion or a graft: the published models of branch loss were not made for it. What is known from its own field?");
    if (c->anatomy.context == BK_CTO && c->anatomy.viable == BK_UNKNOWN)
        ask(list, answer, BK_EVIDENCE("indication_occlusion_viability"), "Does the muscle behind the occlusion live?");
}

static void ask_drugs(const bk_case *c, bk_json *list, bk_answer *answer)
{
    const char *row = BK_EVIDENCE("indication_drugs");
    if (c->indication.dapt_possible == BK_UNKNOWN)
        ask(list, answer, row, "Can two antiplatelet drugs be taken as long as planned?");
    if (c->indication.dapt_possible == BK_NO)
        ask(list, answer, row, "Two antiplatelet drugs cannot be taken as long as planned: is a stent, and are two, the way?");
    if (c->patient.oral_anticoagulation == BK_UNKNOWN)
        ask(list, answer, row, "Is an oral anticoagulant taken?");
    if (c->patient.oral_anticoagulation == BK_YES)
        ask(list, answer, row, "An oral anticoagulant is taken: how long with which antiplatelet drugs?");
    if (c->patient.bleeding_history.surgery_planned == BK_UNKNOWN)
        ask(list, answer, row, "Is surgery planned that cannot wait?");
    if (c->patient.bleeding_history.surgery_planned == BK_YES)
        ask(list, answer, row, "Surgery is planned: before or after, and with which antiplatelet drugs?");
}

void bk_indication_put_questions(const bk_asked *asked, const bk_json *computed_ffr, bk_answer *answer)
{
    bk_json *list = bk_json_array();
    if (acute(asked->c->patient.presentation))
        bk_answer_caution(answer, "Acute presentation: it is itself the indication; pressure readings in the culprit are not read "
                                  "as in stable disease.");
    else
        ask_proof(asked, computed_ffr, list, answer);
    if (asked->c->patient.presentation == BK_PRESENTATION_NOT_SAID)
        ask(list, answer, BK_EVIDENCE("indication_symptoms"), "How did the patient present?");
    ask_extent(asked->c, list, answer);
    ask_drugs(asked->c, list, answer);
    bk_json_put(answer->json, "open_questions", list);
}
