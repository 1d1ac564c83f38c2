/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/live.h"

#include <math.h>
#include <string.h>

#include "base/format.h"
#include "base/time.h"

/* Entry numbers, from 1, that a later entry took back; from the end, so that an undo can be undone itself. */
static bk_json *voided_entries(const bk_json *log)
{
    bk_json *voided = bk_json_object();
    char key[24];
    for (size_t i = bk_json_count(log); i-- > 0;) {
        const bk_json *event = bk_json_at(log, i);
        const double n = bk_json_number(bk_json_get(event, "n"));
        bk_format(key, sizeof key, "%zu", i + 1);
        if (strcmp(bk_json_text(bk_json_get(event, "event")), "undo") != 0 || bk_json_get(voided, key) ||
            !(n >= 1 && n <= (double)i && n == floor(n)))
            continue;
        bk_format(key, sizeof key, "%.0f", n);
        bk_json_put_bool(voided, key, true);
    }
    return voided;
}

/* A number of an event, in the range of the field of the procedure that it adds to; NaN, and a caution unless
   it may be left out. */
static double number_of(const bk_json *event, const char *key, const char *field, bool needed, size_t entry,
                        bk_answer *answer)
{
    const bk_field *row = bk_fields_find(bk_procedure_fields, field);
    const double value = bk_json_number(bk_json_get(event, key));
    if (value >= row->min && value <= row->max)
        return value;
    if (needed || bk_json_get(event, key))
        bk_answer_caution(answer,
                          "log.%zu.%s: a number from %g to %g was expected, this entry is not counted.",
                          entry, key, row->min, row->max);
    return (double)NAN;
}

static void add(double *sum, double value)
{
    if (!isnan(value))
        *sum = isnan(*sum) ? value : *sum + value;
}
static void replace(double *last, double value)
{
    if (!isnan(value))
        *last = value;
}

static void read_dose(const bk_json *event, size_t entry, bk_answer *answer, bk_live *out)
{
    const double tag = number_of(event, "kerma_area_dgy_cm2", "kerma_area_dgy_cm2", false, entry, answer);
    replace(&out->air_kerma_gy, number_of(event, "air_kerma_gy", "air_kerma_gy", false, entry, answer));
    replace(&out->kerma_area_gy_cm2,
            number_of(event, "kerma_area_gy_cm2", "kerma_area_gy_cm2", false, entry, answer));
    replace(&out->kerma_area_gy_cm2,
            tag / bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("kerma_area_unit")));
    replace(&out->fluoroscopy_min,
            number_of(event, "fluoroscopy_min", "fluoroscopy_min", false, entry, answer));
    out->dose_from = "log";
}

/* Times that only the walk through the events needs; NaN: none. */
typedef struct walk {
    double act_at, closed_at;
} walk;

static void read_timi(const bk_json *event, double at, bk_live *out, walk *w)
{
    const double grade = bk_json_number(bk_json_get(event, "grade"));
    if (strcmp(bk_json_text(bk_json_get(event, "limb")), "side") != 0 || !(grade >= 0 && grade <= 3))
        return;
    out->side_timi_last = grade;
    if (grade > 0) {
        add(&out->side_closed_min, at - w->closed_at);
        w->closed_at = (double)NAN;
    } else if (isnan(w->closed_at)) {
        w->closed_at = at;
    }
}

static void read_event(const bk_json *event, size_t entry, bk_answer *answer, bk_live *out, walk *w)
{
    const char *name = bk_json_text(bk_json_get(event, "event"));
    double at;
    if (bk_time_minutes(bk_json_text(bk_json_get(event, "at")), &at))
        out->last_event_min = isnan(out->last_event_min) ? at : fmax(out->last_event_min, at);
    if (strcmp(name, "contrast") == 0) {
        add(&out->contrast_ml, number_of(event, "ml", "contrast_ml", true, entry, answer));
        out->contrast_from = "log";
    } else if (strcmp(name, "heparin") == 0) {
        add(&out->heparin_u, number_of(event, "units", "heparin_u", true, entry, answer));
    } else if (strcmp(name, "dose") == 0) {
        read_dose(event, entry, answer, out);
    } else if (strcmp(name, "act") == 0) {
        const double s = number_of(event, "s", "act_s", true, entry, answer);
        replace(&out->act_s, s);
        if (!isnan(s))
            w->act_at = at;
        out->act_from = "log";
    } else if (strcmp(name, "timi") == 0) {
        read_timi(event, at, out, w);
    }
}

/* Where the log says nothing. */
static void fill_in(const bk_procedure *p, bk_live *out)
{
    const double tag = bk_value(p->kerma_area_dgy_cm2) /
                       bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("kerma_area_unit"));
    if (!out->contrast_from && bk_has(p->contrast_ml)) {
        out->contrast_ml = p->contrast_ml.value;
        out->contrast_from = "procedure";
    }
    if (!out->dose_from) {
        out->air_kerma_gy = bk_value(p->air_kerma_gy);
        out->kerma_area_gy_cm2 = bk_has(p->kerma_area_gy_cm2) ? p->kerma_area_gy_cm2.value : tag;
        out->fluoroscopy_min = bk_value(p->fluoroscopy_min);
        if (!isnan(out->air_kerma_gy) || !isnan(out->kerma_area_gy_cm2) || !isnan(out->fluoroscopy_min))
            out->dose_from = "procedure";
    }
    if (isnan(out->heparin_u))
        out->heparin_u = bk_value(p->heparin_u);
    if (!out->act_from && bk_has(p->act_s)) {
        out->act_s = p->act_s.value;
        out->act_minutes_ago = bk_value(p->act_minutes_ago);
        out->act_from = "procedure";
    }
}

bk_live bk_live_of(const bk_case *c, bk_answer *answer)
{
    const double none = (double)NAN;
    bk_live out = {none, none, none, none, none, none, none, none, none, none, NULL, NULL, NULL};
    walk w = {none, none};
    bk_json *voided = voided_entries(c->log);
    for (size_t i = 0; i < bk_json_count(c->log); i++) {
        char key[24];
        bk_format(key, sizeof key, "%zu", i + 1);
        if (bk_json_is_object(bk_json_at(c->log, i)) && !bk_json_get(voided, key))
            read_event(bk_json_at(c->log, i), i, answer, &out, &w);
    }
    bk_json_free(voided);
    if (out.act_from)
        out.act_minutes_ago = out.last_event_min - w.act_at;
    add(&out.side_closed_min, out.last_event_min - w.closed_at); // still closed
    fill_in(&c->procedure, &out);
    return out;
}
