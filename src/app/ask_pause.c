/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ask pause: what is read aloud to the room before the first wire, built from the case. Sizes and the ladder
 * are those of ask devices and ask steps. */
#include <ctype.h>
#include <math.h>
#include <string.h>

#include "app/ask_patient.h"
#include "base/format.h"
#include "core/patient/contrast.h"

#define LINE 240

typedef struct pause_text {
    bk_json *rows;
    char whole[8 * LINE];
} pause_text;

static void add(char *out, size_t room, const char *between, const char *text)
{
    const size_t n = strlen(out);
    bk_format(out + n, room - n, "%s%s", n ? between : "", text);
}

static void say(pause_text *pause, const char *id, const char *text)
{
    bk_json *row = bk_json_object();
    bk_json_put_text(row, "id", id);
    bk_json_put_text(row, "text", text);
    bk_json_push(pause->rows, row);
    add(pause->whole, sizeof pause->whole, " ", text);
}

/* ---- the lines ---- */

static void patient(const bk_asked *asked, pause_text *pause, bk_answer *answer)
{
    static const char *const sexes[] = {"", "man", "woman"};
    const bk_patient *p = &asked->c->patient;
    char text[LINE] = "Wristband name", part[60];
    if (p->sex)
        add(text, sizeof text, ", ", sexes[p->sex]);
    if (bk_has(p->age_y)) {
        bk_format(part, sizeof part, "%.0f", p->age_y.value);
        add(text, sizeof text, ", ", part);
    } else {
        bk_answer_missing(answer, "patient.age_y", "the pause says it");
    }
    if (bk_has(p->weight_kg)) {
        bk_format(part, sizeof part, "%.0f kg", p->weight_kg.value);
        add(text, sizeof text, ", ", part);
    } else {
        add(text, sizeof text, ", ", "weight not recorded");
        bk_answer_missing(answer, "patient.weight_kg", "the pause says it, and doses need it");
    }
    if (p->presentation)
        add(text, sizeof text, ", ", bk_presentation_name(p->presentation));
    add(text, sizeof text, ". ", "Allergies?");
    say(pause, "patient", text);
}

static void vessel(const bk_asked *asked, pause_text *pause, bk_answer *answer)
{
    static const char *const sites[] = {"",
                                        "Left main",
                                        "Left anterior descending, diagonal",
                                        "Left circumflex, marginal",
                                        "Right coronary, crux",
                                        "Bifurcation as marked"};
    const ptrdiff_t at = asked->facts->measurement;
    const char *medina =
        at < 0 ? "" : bk_json_text(bk_json_get(bk_json_at(asked->c->measurements, (size_t)at), "medina"));
    char text[LINE], part[40];
    bk_format(text, sizeof text, "%s",
              asked->c->anatomy.site ? sites[asked->c->anatomy.site] : "Vessel not recorded");
    if (!asked->c->anatomy.site)
        bk_answer_missing(answer, "anatomy.site", "the pause says it");
    bk_format(part, sizeof part, "Medina %.10s", medina);
    if (medina[0])
        add(text, sizeof text, ", ", part);
    add(text, sizeof text, "", ".");
    say(pause, "vessel", text);
}

static void creatinine(const bk_patient_asked *in, pause_text *pause, bk_answer *answer)
{
    const bk_patient *p = &in->c->patient;
    bk_contrast_limit limits[BK_CONTRAST_RULES];
    char text[LINE] = "Creatinine not recorded", part[80];
    if (bk_has(p->creatinine_mg_dl))
        bk_format(text, sizeof text, "Creatinine %g mg/dL", p->creatinine_mg_dl.value);
    else if (bk_has(p->creatinine_umol_l))
        bk_format(text, sizeof text, "Creatinine %.0f umol/L", p->creatinine_umol_l.value);
    else
        bk_answer_missing(answer, "patient.creatinine_mg_dl", "the pause says it, with the contrast limit");
    if (p->dialysis == BK_YES)
        add(text, sizeof text, ", ", "on dialysis");
    else if (!isnan(in->kidney.egfr)) {
        bk_format(part, sizeof part, "eGFR %.0f", in->kidney.egfr);
        add(text, sizeof text, ", ", part);
    }
    bk_contrast_limits(&in->kidney, in->weight_kg, in->live.contrast_ml, bk_evidence_builtin(), limits);
    const bk_contrast_rule strictest = bk_contrast_strictest(limits);
    if (strictest != BK_CONTRAST_RULES) {
        bk_format(part, sizeof part, "contrast limit %.0f mL", limits[strictest].limit_ml);
        add(text, sizeof text, ", ", part);
        bk_answer_source(answer, bk_contrast_rows[strictest]);
    }
    add(text, sizeof text, "", ".");
    say(pause, "creatinine", text);
}

static void drugs(const bk_patient_asked *in, pause_text *pause, bk_answer *answer)
{
    static const char *const before[] = {"", "no anticoagulant before", "heparin before", "enoxaparin before",
                                         "fondaparinux before"};
    const bk_procedure *p = &in->c->procedure;
    char text[LINE] = "", part[60];
    if (p->anticoagulant)
        add(text, sizeof text, ", ", before[p->anticoagulant]);
    else
        bk_answer_missing(answer, "procedure.anticoagulant", "the pause says it");
    if (in->c->patient.oral_anticoagulation == BK_YES)
        add(text, sizeof text, ", ", "on an oral anticoagulant");
    if (bk_has(p->heparin_u)) {
        bk_format(part, sizeof part, "heparin %.0f U", p->heparin_u.value);
        add(text, sizeof text, ", ", part);
    }
    if (bk_has(p->act_s)) {
        bk_format(part, sizeof part, "ACT %.0f s", p->act_s.value);
        add(text, sizeof text, ", ", part);
    }
    char line[LINE] = "Drugs: ";
    add(line, sizeof line, "", text[0] ? text : "not recorded");
    add(line, sizeof line, "; ", "antiplatelets given?");
    say(pause, "drugs", line);
}

/* "stent 3, POT 3.5": the two that are opened first; the others stand in ask devices. */
static void sizes(const bk_json *items, char *text, size_t room)
{
    static const char *const uses[] = {"main_stent", "pot_balloon"}, *const words[] = {"stent", "POT"};
    for (size_t u = 0; u < sizeof uses / sizeof uses[0]; u++)
        for (size_t i = 0; i < bk_json_count(items); i++) {
            const bk_json *item = bk_json_at(items, i);
            const double mm = bk_json_number(bk_json_get(item, "diameter_mm"));
            char part[40];
            if (strcmp(bk_json_text(bk_json_get(item, "use")), uses[u]) != 0 || isnan(mm))
                continue;
            bk_format(part, sizeof part, "%s %g", words[u], mm);
            add(text, room, ", ", part);
            break;
        }
}

static void plan(const bk_asked *asked, const bk_json *steps, const bk_json *devices, pause_text *pause,
                 bk_answer *answer)
{
    char text[LINE] = "Plan: ", name[48], list[LINE] = "";
    bk_format(name, sizeof name, "%.40s", bk_json_text(bk_json_get(steps, "strategy")));
    for (char *c = name; *c; c++)
        *c = *c == '_' ? ' ' : *c;
    sizes(bk_json_get(devices, "items"), list, sizeof list);
    add(text, sizeof text, "", name[0] ? name : "not decided");
    if (asked->c->decision.strategy == BK_STRATEGY_NOT_SAID) {
        add(text, sizeof text, ", ", "not yet decided");
        bk_answer_missing(answer, "decision.strategy",
                          "the plan read aloud is the first that fits, not one that was decided on");
    }
    add(text, sizeof text, "; ", list[0] ? list : "sizes not known");
    add(text, sizeof text, "", ".");
    say(pause, "plan", text);
}

/* The words of a rung up to its first explanation. The ladder itself has all of it. */
static void shortened(const char *text, char *out, size_t room)
{
    bk_format(out, room, "%s", text);
    out[strcspn(out, ",:;(")] = '\0';
}

#define RUNGS 3

static void ladder(const bk_json *steps, pause_text *pause)
{
    const bk_json *rungs = bk_json_path(steps, "bail_out.0.ladder");
    char say_text[LINE] = "", kit[LINE] = "", part[120], line[2 * LINE];
    int n = 0;
    for (size_t i = 0; i < bk_json_count(rungs); i++) {
        const bk_json *rung = bk_json_at(rungs, i);
        if (bk_json_number(bk_json_get(rung, "n")) < 1 || n++ >= RUNGS)
            continue;
        shortened(bk_json_text(bk_json_get(rung, "do")), part, sizeof part);
        add(say_text, sizeof say_text, ", ", part);
    }
    n = 0;
    for (size_t i = 0; i < bk_json_count(rungs) && n < RUNGS; i++) {
        const char *with = bk_json_text(bk_json_get(bk_json_at(rungs, i), "with"));
        if (!with[0] || strcmp(with, "nothing new") == 0 ||
            bk_json_number(bk_json_get(bk_json_at(rungs, i), "n")) < 1 || strstr(kit, with))
            continue;
        add(kit, sizeof kit, ", ", with);
        n++;
    }
    bk_format(line, sizeof line, "If the branch closes: %s.",
              say_text[0] ? say_text : "no ladder can be said");
    say(pause, "bail_out", line);
    bk_format(line, sizeof line, "In the room: %s.", kit[0] ? kit : "not known");
    say(pause, "kit", line);
}

static int words_in(const char *text)
{
    int n = 0;
    bool inside = false;
    for (; *text; text++) {
        const bool letter = !isspace((unsigned char)*text);
        n += letter && !inside;
        inside = letter;
    }
    return n;
}

static bk_json *other_answer(const bk_asked *asked, const char *topic,
                             void (*fill)(const bk_asked *, bk_answer *))
{
    bk_answer own = bk_answer_start(topic);
    fill(asked, &own);
    return bk_answer_finish(&own);
}

void bk_answer_pause(const bk_asked *asked, bk_answer *answer)
{
    const bk_evidence_set *evidence = bk_evidence_builtin();
    const bk_patient_asked in = bk_patient_asked_of(asked, answer);
    pause_text pause = {.rows = bk_json_array()};
    bk_json *steps = other_answer(asked, "steps", bk_answer_steps),
            *devices = other_answer(asked, "devices", bk_answer_devices);
    patient(asked, &pause, answer);
    vessel(asked, &pause, answer);
    creatinine(&in, &pause, answer);
    drugs(&in, &pause, answer);
    plan(asked, steps, devices, &pause, answer);
    ladder(steps, &pause);
    bk_json_free(steps);
    bk_json_free(devices);
    const int words = words_in(pause.whole);
    const double seconds = 60.0 * words / bk_evidence_value(evidence, BK_EVIDENCE("pause_words_per_minute"));
    const double line = bk_evidence_value(evidence, BK_EVIDENCE("pause_seconds"));
    bk_json_put(answer->json, "lines", pause.rows);
    bk_json_put_text(answer->json, "read_aloud", pause.whole);
    bk_json_put_integer(answer->json, "words", words);
    bk_json_put_fixed(answer->json, "seconds", seconds, 0);
    bk_answer_source(answer, BK_EVIDENCE("pause_words_per_minute"));
    bk_answer_source(answer, BK_EVIDENCE("pause_seconds"));
    if (seconds > line)
        bk_answer_caution(answer,
                          "Read aloud this takes about %.0f s, %.0f s were meant: say the first lines, leave "
                          "the ladder on the screen.",
                          seconds, line);
    bk_answer_caution(
        answer, "Whoever reads it asks the room for what is missing; an answer here is no confirmation.");
}
