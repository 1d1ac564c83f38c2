/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/ask_patient.h"

#include <math.h>

static const char *const presentations[] = {"", "chronic", "unstable", "nstemi", "stemi", "shock", "arrest"};

const char *bk_presentation_name(int presentation)
{
    return presentations[presentation];
}

bool bk_infarction_running(int presentation)
{
    return presentation >= BK_NSTEMI;
}

const bk_evidence *bk_patient_row(const char *id)
{
    return bk_evidence_find(bk_evidence_builtin(), id);
}

void bk_patient_push_row(bk_json *array, const char *id, bk_answer *answer)
{
    const bk_evidence *row = bk_patient_row(id);
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "name", row->name);
    bk_json_put_text(out, "text", row->text);
    bk_json_put_text(out, "standing", bk_standing_name(row->standing));
    bk_json_put_text(out, "source", row->id);
    bk_json_push(array, out);
    bk_answer_source(answer, row->id);
}

bk_json *bk_patient_score_items(const bk_score *score, bk_answer *answer)
{
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < score->n; i++) {
        bk_json *out = bk_json_object();
        bk_json_put_text(out, "id", score->items[i].id);
        bk_json_put_text(out, "present", bk_tri_name(score->items[i].present));
        bk_json_put_fixed(out, "points", score->items[i].points, 2);
        bk_json_put_text(out, "text", bk_patient_row(score->items[i].row)->text);
        bk_json_push(list, out);
        bk_answer_source(answer, score->items[i].row);
    }
    return list;
}

static void note(bk_answer *answer, const char *name, bk_qty q, const char *unit)
{
    const bk_fact fact = {q, BK_FROM_NOWHERE};
    bk_answer_input(answer, name, &fact, unit, -1);
}

static void note_inputs(const bk_patient *p, bk_answer *answer)
{
    static const char *const sexes[] = {"", "male", "female"};
    note(answer, "patient.age_y", p->age_y, "years");
    note(answer, "patient.weight_kg", p->weight_kg, "kg");
    note(answer, "patient.height_cm", p->height_cm, "cm");
    note(answer, "patient.creatinine_mg_dl", p->creatinine_mg_dl, "mg/dL");
    note(answer, "patient.creatinine_umol_l", p->creatinine_umol_l, "umol/L");
    note(answer, "patient.haemoglobin_g_dl", p->haemoglobin_g_dl, "g/dL");
    note(answer, "patient.haemoglobin_g_l", p->haemoglobin_g_l, "g/L");
    note(answer, "patient.haemoglobin_mmol_l", p->haemoglobin_mmol_l, "mmol/L");
    if (p->sex)
        bk_answer_input_text(answer, "patient.sex", sexes[p->sex], "entered");
    if (p->presentation)
        bk_answer_input_text(answer, "patient.presentation", presentations[p->presentation], "entered");
    if (p->dialysis)
        bk_answer_input_text(answer, "patient.dialysis", bk_tri_name(p->dialysis), "entered");
    if (p->creatinine_unstable)
        bk_answer_input_text(answer, "patient.creatinine_unstable", bk_tri_name(p->creatinine_unstable),
                             "entered");
}

bk_patient_asked bk_patient_asked_of(const bk_asked *asked, bk_answer *answer)
{
    const bk_patient *p = &asked->c->patient;
    const bk_evidence_set *evidence = bk_evidence_builtin();
    note_inputs(p, answer);
    return (bk_patient_asked){.c = asked->c,
                              .facts = asked->facts,
                              .kidney = bk_kidney_of(p, evidence),
                              .age_y = bk_value(p->age_y),
                              .weight_kg = bk_value(p->weight_kg),
                              .haemoglobin_g_dl = bk_haemoglobin_g_dl(p, evidence),
                              .live = bk_live_of(asked->c, answer)};
}
