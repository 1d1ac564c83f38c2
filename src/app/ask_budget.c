/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ask budget: kidney, contrast, radiation, anticoagulation and bleeding, before and while it runs. */
#include <math.h>

#include "app/ask_patient.h"
#include "base/format.h"
#include "core/patient/contrast.h"

static bk_json *egfr_json(const bk_kidney *kidney)
{
    if (isnan(kidney->egfr))
        return bk_json_new_null();
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "value", kidney->egfr, 4);
    bk_json_put_text(out, "unit", "mL/min/1.73 m2");
    bk_json_put_text(out, "stage", bk_gfr_category(kidney->egfr, bk_evidence_builtin()));
    bk_json_put_text(out, "formula", "CKD-EPI 2021, creatinine, without race");
    bk_json_put_fixed(out, "of_the_person_ml_min", kidney->egfr_of_person, 3);
    bk_json_put_fixed(out, "body_surface_m2", kidney->surface_m2, 4);
    bk_json_put_text(out, "standing", bk_standing_name(bk_patient_row(BK_EVIDENCE("egfr2021_scale"))->standing));
    return out;
}

static bk_json *crcl_json(const bk_kidney *kidney)
{
    if (isnan(kidney->crcl))
        return bk_json_new_null();
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "value", kidney->crcl, 4);
    bk_json_put_text(out, "unit", "mL/min");
    bk_json_put_text(out, "formula", "Cockcroft-Gault, actual weight");
    bk_json_put_text(out, "standing", bk_standing_name(bk_patient_row(BK_EVIDENCE("crcl_cockcroft"))->standing));
    return out;
}

static bk_json *limit_json(int rule, const bk_contrast_limit *limit, bool strictest)
{
    const bk_evidence *row = bk_patient_row(bk_contrast_rows[rule]);
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "id", bk_contrast_ids[rule]);
    bk_json_put_text(out, "name", row->name);
    bk_json_put_fixed(out, "limit_ml", limit->limit_ml, 4);
    bk_json_put_bool(out, "capped", limit->capped);
    bk_json_put_text(out, "within_what_it_was_derived_at", rule == BK_CONTRAST_FIVE_KG ? bk_tri_name(limit->in_range) : NULL);
    bk_json_put_fixed(out, "used_pct", limit->used_pct, 0);
    bk_json_put_fixed(out, "remaining_ml", limit->remaining_ml, 1);
    bk_json_put_text(out, "passed", bk_tri_name(limit->passed));
    bk_json_put_bool(out, "strictest", strictest);
    bk_json_put_text(out, "text", row->text);
    bk_json_put_text(out, "end_point", row->end_point);
    bk_json_put_text(out, "standing", bk_standing_name(row->standing));
    return out;
}

static bk_json *contrast_json(const bk_patient_asked *in, bk_answer *answer)
{
    const bk_evidence_set *evidence = bk_evidence_builtin();
    bk_contrast_limit limits[BK_CONTRAST_RULES];
    bk_json *out = bk_json_object(), *list = bk_json_array();
    bk_contrast_limits(&in->kidney, in->weight_kg, in->live.contrast_ml, evidence, limits);
    const bk_contrast_rule strictest = bk_contrast_strictest(limits);
    for (int i = 0; i < BK_CONTRAST_RULES; i++) {
        bk_json_push(list, limit_json(i, &limits[i], i == (int)strictest));
        bk_answer_source(answer, bk_contrast_rows[i]);
    }
    bk_json_put(out, "limits", list);
    bk_json_put_fixed(out, "used_ml", in->live.contrast_ml, 1);
    bk_json_put_text(out, "used_from", in->live.contrast_from);
    return out;
}

void bk_answer_budget(const bk_asked *asked, bk_answer *answer)
{
    const bk_patient_asked in = bk_patient_asked_of(asked, answer);
    bk_json_put(answer->json, "egfr", egfr_json(&in.kidney));
    bk_json_put(answer->json, "crcl", crcl_json(&in.kidney));
    bk_json_put(answer->json, "contrast", contrast_json(&in, answer));
    bk_answer_source(answer, BK_EVIDENCE("egfr2021_scale"));
    bk_answer_source(answer, BK_EVIDENCE("crcl_cockcroft"));
}
