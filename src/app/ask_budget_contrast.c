/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Contrast limits side by side, what was used of each, iodine; points tables for kidney injury. */
#include <math.h>
#include <string.h>

#include "app/ask_budget.h"
#include "core/patient/contrast.h"
#include "core/patient/lines.h"
#include "core/patient/scores.h"

static bk_json *limit_json(int rule, const bk_contrast_limit *limit, bool strictest)
{
    const bk_evidence *row = bk_patient_row(bk_contrast_rows[rule]);
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "id", bk_contrast_ids[rule]);
    bk_json_put_text(out, "name", row->name);
    bk_json_put_fixed(out, "limit_ml", limit->limit_ml, 4);
    bk_json_put_bool(out, "capped", limit->capped);
    if (rule == BK_CONTRAST_FIVE_KG)
        bk_json_put_text(out, "in_the_range_it_was_derived_at", bk_tri_name(limit->in_range));
    bk_json_put_fixed(out, "used_pct", limit->used_pct, 0);
    bk_json_put_fixed(out, "remaining_ml", limit->remaining_ml, 1);
    bk_json_put_text(out, "passed", bk_tri_name(limit->passed));
    bk_json_put_bool(out, "strictest", strictest);
    bk_json_put_text(out, "text", row->text);
    bk_json_put_text(out, "end_point", row->end_point);
    bk_json_put_text(out, "source", row->id);
    bk_json_put_text(out, "standing", bk_standing_name(row->standing));
    return out;
}

static bk_json *multiple_json(const bk_patient_asked *in, bk_answer *answer)
{
    const double ratio =
        bk_contrast_macd(&in->kidney, in->weight_kg, in->live.contrast_ml, bk_evidence_builtin());
    const char *row = bk_contrast_macd_row(ratio, bk_evidence_builtin());
    if (isnan(ratio))
        return bk_json_new_null();
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "value", ratio, 2);
    bk_json_put_text(out, "text", row ? bk_patient_row(row)->text : "below 1: no difference was seen");
    bk_json_put_text(out, "end_point", bk_patient_row(BK_EVIDENCE("macd_1"))->end_point);
    bk_json_put_text(out, "standing", bk_standing_name(bk_patient_row(BK_EVIDENCE("macd_1"))->standing));
    bk_answer_source(answer, row ? row : BK_EVIDENCE("macd_1"));
    return out;
}

static bk_json *iodine_json(const bk_patient_asked *in, bk_answer *answer)
{
    const bk_evidence *line = bk_patient_row(BK_EVIDENCE("contrast_iodine_egfr"));
    const double grams = bk_iodine_g(in->live.contrast_ml, bk_value(in->c->procedure.iodine_mg_ml));
    const double ratio = grams / in->kidney.egfr;
    if (!bk_has(in->c->procedure.iodine_mg_ml))
        bk_answer_missing(answer, "procedure.iodine_mg_ml", "gives grams of iodine");
    if (isnan(grams))
        return bk_json_new_null();
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "used_g", grams, 1);
    bk_json_put_fixed(out, "per_egfr", ratio, 4);
    bk_json_put_fixed(out, "per_egfr_line", line->value, 2);
    bk_json_put_text(out, "above_line",
                     isnan(ratio) ? "unknown" : bk_tri_name(bk_above(ratio, line->value) ? BK_YES : BK_NO));
    bk_json_put_fixed(out, "per_gfr_of_the_person", grams / in->kidney.egfr_of_person, 2);
    bk_json_put_text(out, "text", line->text);
    bk_json_put_text(out, "standing", bk_standing_name(line->standing));
    bk_answer_source(answer, line->id);
    if (!isnan(in->kidney.egfr_of_person))
        bk_answer_source(answer, BK_EVIDENCE("contrast_iodine_gfr"));
    return out;
}

bk_json *bk_budget_contrast(const bk_patient_asked *in, bk_answer *answer)
{
    bk_contrast_limit limits[BK_CONTRAST_RULES];
    bk_json *out = bk_json_object(), *list = bk_json_array();
    bk_contrast_limits(&in->kidney, in->weight_kg, in->live.contrast_ml, bk_evidence_builtin(), limits);
    const bk_contrast_rule strictest = bk_contrast_strictest(limits);
    for (int i = 0; i < BK_CONTRAST_RULES; i++) {
        bk_json_push(list, limit_json(i, &limits[i], i == (int)strictest));
        bk_answer_source(answer, bk_contrast_rows[i]);
    }
    bk_json_put(out, "limits", list);
    bk_json_put_text(out, "hold", in->kidney.no_formula ? bk_budget_no_formula(&in->c->patient) : NULL);
    bk_json_put_fixed(out, "used_ml", in->live.contrast_ml, 1);
    bk_json_put_text(out, "used_from", in->live.contrast_from);
    bk_json_put(out, "multiple_of_5kg_per_scr", multiple_json(in, answer));
    bk_json_put(out, "iodine", iodine_json(in, answer));
    bk_json_put_text(out, "text", bk_patient_row(BK_EVIDENCE("contrast_discrimination"))->text);
    bk_json_put_bool(out, "blocks", false);
    const int presentation = in->c->patient.presentation;
    const bool never = presentation == BK_STEMI || presentation == BK_SHOCK || presentation == BK_ARREST;
    bk_json_put_text(out, "note", never ? bk_patient_row(BK_EVIDENCE("contrast_never_delay"))->text : NULL);
    bk_answer_source(answer, BK_EVIDENCE("contrast_discrimination"));
    if (never)
        bk_answer_source(answer, BK_EVIDENCE("contrast_never_delay"));
    if (isnan(in->live.contrast_ml))
        bk_answer_missing(answer, "procedure.contrast_ml",
                          "neither the log nor the procedure says what was used: what is left of each limit");
    return out;
}

static bk_json *mehran_json(const bk_patient_asked *in, bk_answer *answer)
{
    const bk_evidence_set *evidence = bk_evidence_builtin();
    const bk_score score =
        bk_mehran_2004(&in->c->patient, &in->kidney, &in->c->procedure, in->live.contrast_ml, evidence);
    const char *group = bk_mehran_group_row(score.points, evidence);
    const bool infarction = bk_infarction_running(in->c->patient.presentation);
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "id", "mehran_2004");
    bk_json_put_text(out, "name", "Points for kidney injury, 2004, with the contrast used so far");
    bk_json_put_bool(out, "applies", !infarction && !in->kidney.no_formula);
    bk_json_put_text(out, "why_not",
                     infarction              ? "acute infarction was not in what it was made from"
                     : in->kidney.no_formula ? "needs a stable creatinine without dialysis"
                                             : NULL);
    bk_json_put_fixed(out, "points", score.points, 0);
    bk_json_put(out, "group",
                group ? bk_json_new_integer(group[strlen(group) - 1] - '0') : bk_json_new_null());
    bk_json_put_text(out, "group_text",
                     "group of four as printed in copies that differ at 16; the rates of the groups are not "
                     "shown: not verified");
    bk_json_put(out, "items", bk_patient_score_items(&score, answer));
    bk_json_put_text(out, "end_point", bk_patient_row(BK_EVIDENCE("mehran_age"))->end_point);
    bk_json_put_text(out, "standing", bk_standing_name(bk_patient_row(BK_EVIDENCE("mehran_age"))->standing));
    return out;
}

bk_json *bk_budget_kidney_scores(const bk_patient_asked *in, bk_answer *answer)
{
    bk_json *out = bk_json_object(), *scores = bk_json_array(), *left_out = bk_json_array();
    bk_json_push(scores, mehran_json(in, answer));
    bk_patient_push_row(left_out, BK_EVIDENCE("mehran_2021"), answer);
    bk_patient_push_row(left_out, BK_EVIDENCE("aki_other_score"), answer);
    bk_json_put(out, "scores", scores);
    bk_json_put(out, "not_computed", left_out);
    bk_answer_source(answer, BK_EVIDENCE("aki_predictors"));
    return out;
}
