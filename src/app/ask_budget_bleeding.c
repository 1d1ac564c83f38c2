/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bleeding criteria, and how long two antiplatelet drugs are given, as published for this presentation. */
#include <math.h>

#include "app/ask_budget.h"
#include "core/patient/bleeding.h"
#include "core/patient/scores.h"

static bk_json *hbr_json(const bk_hbr *hbr, bk_answer *answer)
{
    bk_json *out = bk_json_object(), *list = bk_json_array();
    for (int i = 0; i < BK_HBR_CRITERIA; i++) {
        const bk_hbr_criterion *c = &hbr->criteria[i];
        bk_json *entry = bk_json_object();
        bk_json_put_text(entry, "id", c->id);
        bk_json_put_text(entry, "text", bk_patient_row(c->row)->text);
        bk_json_put_text(entry, "class", c->major ? "major" : "minor");
        bk_json_put_text(entry, "met", bk_tri_name(c->met));
        bk_json_put_text(entry, "input", c->input);
        bk_json_put_text(entry, "source", c->row);
        bk_json_push(list, entry);
        if (c->met == BK_YES)
            bk_answer_source(answer, c->row);
        if (c->met == BK_UNKNOWN && hbr->high == BK_UNKNOWN)
            bk_answer_missing(answer, c->input,
                              "a criterion of high bleeding risk (ARC) that could still decide it");
    }
    bk_json_put_text(out, "high", bk_tri_name(hbr->high));
    bk_json_put_integer(out, "major", hbr->major);
    bk_json_put_integer(out, "minor", hbr->minor);
    bk_json_put(out, "criteria", list);
    bk_json_put_text(out, "text", bk_patient_row(BK_EVIDENCE("arc_hbr"))->text);
    bk_json_put_text(out, "standing", bk_standing_name(bk_patient_row(BK_EVIDENCE("arc_hbr"))->standing));
    bk_answer_source(answer, BK_EVIDENCE("arc_hbr"));
    bk_answer_source(answer, BK_EVIDENCE("hbr_rates"));
    return out;
}

static bk_json *score_json(const char *id, const char *name, const bk_score *score, const char *line_row,
                           bk_answer *answer)
{
    const bk_evidence *line = bk_patient_row(line_row);
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "id", id);
    bk_json_put_text(out, "name", name);
    bk_json_put_fixed(out, "points", score->points, 1);
    bk_json_put_fixed(out, "published_line", line->value, 0);
    bk_json_put_text(out, "text", line->text);
    bk_json_put(out, "items", bk_patient_score_items(score, answer));
    bk_json_put_text(out, "standing", bk_standing_name(line->standing));
    bk_answer_source(answer, line_row);
    return out;
}

bk_json *bk_budget_bleeding(const bk_patient_asked *in, bk_answer *answer)
{
    const bk_evidence_set *evidence = bk_evidence_builtin();
    const bk_hbr hbr = bk_hbr_of(&in->c->patient, &in->kidney, in->haemoglobin_g_dl, evidence);
    const bk_score precise = bk_precise_dapt(&in->c->patient, &in->kidney, in->haemoglobin_g_dl, evidence);
    bk_json *out = bk_json_object(), *left_out = bk_json_array();
    bk_json_put_fixed(out, "haemoglobin_g_dl", in->haemoglobin_g_dl, 2);
    bk_json_put(out, "arc_hbr", hbr_json(&hbr, answer));
    bk_json_put(out, "precise_dapt",
                score_json("precise_dapt",
                           "PRECISE-DAPT, straight lines between the ends of its nomogram: not verified",
                           &precise, BK_EVIDENCE("precise_line"), answer));
    bk_patient_push_row(left_out, BK_EVIDENCE("precise_hbr"), answer);
    bk_patient_push_row(left_out, BK_EVIDENCE("precise_four"), answer);
    bk_json_put(out, "not_computed", left_out);
    bk_answer_source(answer, BK_EVIDENCE("precise_validation"));
    return out;
}

static bk_json *durations(const bk_patient_asked *in, bk_answer *answer)
{
    static const char *const chronic[] = {BK_EVIDENCE("dapt_ccs_2024"), BK_EVIDENCE("dapt_ccs_2019"),
                                          BK_EVIDENCE("dapt_ccs_us_2021"), BK_EVIDENCE("dapt_ccs_us_2016")};
    static const char *const acute[] = {BK_EVIDENCE("dapt_acs_2023"), BK_EVIDENCE("dapt_acs_us_2025"),
                                        BK_EVIDENCE("dapt_acs_us_2016")};
    const int presentation = in->c->patient.presentation;
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < 4 && presentation == BK_CHRONIC; i++)
        bk_patient_push_row(list, chronic[i], answer);
    for (size_t i = 0; i < 3 && presentation > BK_CHRONIC; i++)
        bk_patient_push_row(list, acute[i], answer);
    if (in->c->patient.oral_anticoagulation == BK_YES)
        bk_patient_push_row(list, BK_EVIDENCE("dapt_af"), answer);
    if (presentation == BK_PRESENTATION_NOT_SAID)
        bk_answer_missing(answer, "patient.presentation",
                          "the published durations differ between chronic and acute syndromes");
    return list;
}

bk_json *bk_budget_antiplatelet(const bk_patient_asked *in, bk_answer *answer)
{
    const bk_score dapt = bk_dapt_score(&in->c->patient, &in->c->procedure, bk_evidence_builtin());
    const bool excluded = in->c->patient.oral_anticoagulation == BK_YES;
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "presentation",
                     in->c->patient.presentation ? bk_presentation_name(in->c->patient.presentation) : NULL);
    bk_json_put(out, "durations", durations(in, answer));
    bk_json *score = score_json("dapt_score", "DAPT score, for month 12 without event only", &dapt,
                                BK_EVIDENCE("dapt_line"), answer);
    bk_json_put_bool(score, "applies", !excluded);
    bk_json_put_text(score, "why_not", excluded ? "not with oral anticoagulation" : NULL);
    bk_json_put(out, "dapt_score", score);
    bk_json_put_text(out, "complex_pci", bk_patient_row(BK_EVIDENCE("dapt_complex"))->text);
    bk_json_put_text(out, "loading", bk_patient_row(BK_EVIDENCE("loading_doses"))->text);
    bk_answer_source(answer, BK_EVIDENCE("dapt_complex"));
    bk_answer_source(answer, BK_EVIDENCE("loading_doses"));
    return out;
}
