/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Values inside the range of their field that still look like another unit, asked by name. Where a line is
   drawn here it is a choice of this project: a question costs a look, a slip costs more. */
#include <math.h>

#include "app/ask_patient.h"
#include "base/format.h"
#include "core/patient/radiation.h"

static void ask(bk_json *list, const char *format, ...) BK_PRINTF(2, 3);
static void ask(bk_json *list, const char *format, ...)
{
    char text[240];
    va_list args;
    va_start(args, format);
    bk_format_list(text, sizeof text, format, args);
    va_end(args);
    bk_json_push(list, bk_json_new_text(text));
}

static void about_blood(const bk_patient *p, bk_json *list)
{
    const double per_mmol = bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("haemoglobin_mmol"));
    const double mg = bk_value(p->creatinine_mg_dl), hb = bk_value(p->haemoglobin_g_dl);
    const double mmol = bk_value(p->haemoglobin_mmol_l), hct = bk_value(p->haematocrit_pct);
    if (mg > 8 && p->dialysis != BK_YES)
        ask(list,
            "creatinine %g mg/dL without dialysis? check the unit, and whether the patient is on dialysis",
            mg);
    if (mg < 0.4)
        ask(list, "creatinine %g mg/dL? in mmol/L it would be %.2f mg/dL", mg,
            1000 * mg / bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("creatinine_umol")));
    if (hb >= 6.5 && hb < 11)
        ask(list, "haemoglobin %g g/dL? %g mmol/L would be %.1f g/dL", hb, hb, hb * per_mmol);
    if (mmol > 11)
        ask(list, "haemoglobin %g mmol/L, that is %.1f g/dL? %g g/dL would be %.1f mmol/L", mmol,
            mmol * per_mmol, mmol, mmol / per_mmol);
    if (hb > 19)
        ask(list, "haemoglobin %g g/dL? check it", hb);
    if (!isnan(hb) && !isnan(hct) && (hct / hb < 2.4 || hct / hb > 3.6))
        ask(list, "haematocrit %g %% with haemoglobin %g g/dL? they are usually three to one", hct, hb);
}

static void about_body(const bk_patient *p, bk_json *list)
{
    const double kg = bk_value(p->weight_kg), cm = bk_value(p->height_cm);
    const double index = kg / (cm * cm / 1e4);
    if (kg > 150)
        ask(list, "weight %g kg? %g lb would be %.0f kg", kg, kg,
            kg * 0.45359237); // the pound, by definition
    if (index < 14 || index > 60)
        ask(list, "weight %g kg with height %g cm is %.0f kg/m2: check both and their units", kg, cm, index);
}

static void about_dose(const bk_patient_asked *in, bk_json *list)
{
    const bk_evidence *field = bk_patient_row(BK_EVIDENCE("field_plausible"));
    const bk_live *live = &in->live;
    const double cm2 = bk_mean_field_cm2(live->kerma_area_gy_cm2, live->air_kerma_gy);
    if (cm2 < field->low || cm2 > field->high)
        ask(list,
            "kerma-area product %g Gy.cm2 with air kerma %g Gy is a mean field of %.1f cm2: dGy.cm2 for "
            "Gy.cm2, or mGy for Gy?",
            live->kerma_area_gy_cm2, live->air_kerma_gy, cm2);
    if (live->air_kerma_gy > 20)
        ask(list, "air kerma %g Gy? %g cGy would be %.2f Gy", live->air_kerma_gy, live->air_kerma_gy,
            live->air_kerma_gy / 100);
}

bk_json *bk_patient_questions(const bk_patient_asked *in)
{
    bk_json *list = bk_json_array();
    about_blood(&in->c->patient, list);
    about_body(&in->c->patient, list);
    about_dose(in, list);
    return list;
}
