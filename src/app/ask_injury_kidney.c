/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Kidney injury by both definitions, from what was entered or from every creatinine of the laboratory after.
 */
#include <math.h>

#include "app/ask_injury.h"
#include "base/format.h"

typedef struct found {
    bool any;
    bk_creatinine_pair pair; /* of the worst */
    bk_kidney_injury injury;
} found;

static void keep_worse(found *out, const bk_creatinine_pair *pair, const bk_kidney_injury *got)
{
    const bool worse = !out->any || got->stage > out->injury.stage ||
                       (got->stage == out->injury.stage && got->ratio > out->injury.ratio);
    const bk_tri older = out->any && out->injury.older == BK_YES ? BK_YES : got->older;
    const char *clause =
        out->any && out->injury.older == BK_YES ? out->injury.older_clause : got->older_clause;
    if (worse) {
        out->pair = *pair;
        out->injury = *got;
    }
    out->any = true;
    out->injury.older = older;
    out->injury.older_clause = clause;
}

static found look(const bk_injury_asked *in)
{
    const bk_evidence_set *evidence = bk_evidence_builtin();
    const bk_kidney_after *after = &in->in.kidney;
    const bool entered = bk_has(after->creatinine_mg_dl) || bk_has(after->creatinine_umol_l) ||
                         bk_has(after->urine_ml_kg_h) || after->renal_replacement == BK_YES;
    found out = {.any = false};
    bk_creatinine_pair pair;
    if (entered) {
        pair = bk_creatinine_pair_of(&in->patient.c->patient, after, evidence);
        const bk_kidney_injury got = bk_kidney_injury_of(&pair, after, evidence);
        keep_worse(&out, &pair, &got);
        return out;
    }
    for (size_t i = 0;
         bk_lab_creatinine(&in->patient.c->labs, i, in->ended_min, in->before_mg_dl, evidence, &pair); i++) {
        const bk_kidney_injury got = bk_kidney_injury_of(&pair, after, evidence);
        keep_worse(&out, &pair, &got);
    }
    return out;
}

static bk_json *kdigo(const bk_kidney_injury *k, bk_answer *answer)
{
    char text[120];
    bk_json *out = bk_json_object();
    bk_format(text, sizeof text,
              k->stage < 0    ? "cannot say"
              : k->stage == 0 ? "no injury by KDIGO"
                              : "stage %d by KDIGO",
              k->stage);
    bk_json_put(out, "stage", k->stage < 0 ? bk_json_new_null() : bk_json_new_integer(k->stage));
    bk_json_put_text(out, "text", text);
    bk_json_put_text(out, "clause", k->clause ? bk_patient_row(k->clause)->text : NULL);
    bk_json_put_text(out, "note",
                     k->beyond_48_h ? "the sample was taken after 48 h: a rise of 0.3 mg/dL no longer counts"
                                    : NULL);
    bk_json_put_text(out, "standing", bk_standing_name(bk_patient_row(BK_EVIDENCE("aki_rise"))->standing));
    bk_answer_source(answer, k->clause ? k->clause : BK_EVIDENCE("aki_rise"));
    return out;
}

static bk_json *older(const bk_kidney_injury *k, bk_answer *answer)
{
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "met", bk_tri_name(k->older));
    bk_json_put_text(out, "clause", k->older_clause ? bk_patient_row(k->older_clause)->text : NULL);
    bk_json_put_text(out, "standing", bk_standing_name(bk_patient_row(BK_EVIDENCE("cin_rise"))->standing));
    bk_answer_source(answer, BK_EVIDENCE("cin_rise"));
    return out;
}

bk_json *bk_injury_kidney(const bk_injury_asked *in, bk_answer *answer)
{
    const found got = look(in);
    if (!got.any) {
        bk_answer_missing(answer, "injury.kidney.creatinine_mg_dl",
                          "no creatinine after the procedure: kidney injury cannot be said");
        return bk_json_new_null();
    }
    bk_json *out = bk_json_object();
    bk_json_put(out, "kdigo", kdigo(&got.injury, answer));
    bk_json_put(out, "older", older(&got.injury, answer));
    bk_json_put_fixed(out, "before", got.pair.before, 2);
    bk_json_put_fixed(out, "after", got.pair.after, 2);
    bk_json_put_fixed(out, "rise", got.injury.rise, 2);
    bk_json_put_text(out, "unit", got.pair.umol_l ? "umol/L" : "mg/dL");
    bk_json_put_fixed(out, "ratio", got.injury.ratio, 2);
    bk_json_put_fixed(out, "hours", got.pair.hours, 1);
    bk_json_put_text(out, "text", "the two definitions are not interchangeable: keep which one was used");
    if (isnan(got.pair.before))
        bk_answer_missing(answer, "patient.creatinine_mg_dl", "no creatinine before: neither rise nor ratio");
    else if (isnan(got.pair.hours) && !isnan(got.pair.after))
        bk_answer_missing(answer, "injury.kidney.creatinine_hours",
                          "the definitions count within 48 h, 72 h and 7 days");
    if (in->patient.c->patient.dialysis == BK_YES)
        bk_answer_caution(answer, "On dialysis a change of creatinine says nothing of kidney injury.");
    return out;
}
