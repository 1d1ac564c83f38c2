/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `ask devices`: the guide at every moment. */
#include <math.h>

#include "app/ask_devices.h"
#include "base/format.h"

#define TEXT 320
#define SHOWN 6 /* French, when no guide takes every planned moment */

static const char *const level_words[BK_LEVELS] = {"front", "distal shaft", "proximal shaft"};

static void put_verdict(bk_json *object, const bk_fit *fit)
{
    bk_json_put_text(object, "verdict", bk_fit_name(fit->verdict));
}

/* What decided: the widest section, or the rule that overrules it. */
static void put_by(bk_json *object, const bk_guide_state *state, const bk_fit *fit)
{
    char text[TEXT];
    if (fit->verdict == BK_FIT_CANNOT_SAY) {
        bk_json_put_null(object, "by");
        return;
    }
    int n = 0;
    text[0] = '\0';
    for (size_t i = 0; i < state->n; i++) {
        char part[TEXT];
        const bool wire = state->profile[i].kind == BK_KIND_WIRE;
        bk_format(part, sizeof part, "%s%s%s%s%s", text, n++ ? " beside " : "", state->device[i],
                  wire ? "" : ", ", wire ? "" : level_words[fit->level[i]]);
        bk_format(text, sizeof text, "%s", part);
    }
    char by[2 * TEXT];
    if (fit->by_rule)
        bk_format(by, sizeof by,
                  "published practice (%d F); rigid circles ask for %.2f mm: depends on the profiles",
                  fit->rule_french, fit->needed_mm);
    else
        bk_format(by, sizeof by, "packing: %s", text);
    bk_json_put_text(object, "by", by);
    bk_json_put_text(object, "widest_section", text);
}

/* The circles of the widest section, for a drawing. */
static bk_json *section_json(const bk_guide_state *state, const bk_fit *fit)
{
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < fit->section.n; i++) {
        bk_json *circle = bk_json_object();
        const bool second = i > 0 && fit->section.device[i] == fit->section.device[i - 1];
        bk_json_put_text(circle, "of", state->device[fit->section.device[i]]);
        bk_json_put_text(circle, "part",
                         state->profile[fit->section.device[i]].kind == BK_KIND_WIRE || second
                             ? "wire"
                             : level_words[fit->level[fit->section.device[i]]]);
        bk_json_put_fixed(circle, "diameter_mm", fit->section.mm[i], 3);
        bk_json_put_reals(circle, "place_mm", fit->section.place_mm[i], 2, 3);
        bk_json_push(list, circle);
    }
    return list;
}

static bk_json *state_json(const bk_guide_state *state, int french)
{
    const bk_fit *fit = &state->fit[french - BK_GUIDE_FROM];
    bk_json *out = bk_json_object(), *devices = bk_json_array(), *all = bk_json_array();
    for (size_t i = 0; i < state->n; i++)
        bk_json_push(devices, bk_json_new_text(state->device[i]));
    bk_json_put_text(out, "moment", state->moment);
    bk_json_put(out, "devices", devices);
    bk_json_put_text(out, "when", state->if_needed ? "if needed" : "planned");
    bk_json_put_fixed(out, "needed_mm", fit->needed_mm, 2);
    put_verdict(out, fit);
    put_by(out, state, fit);
    bk_json_put_text(out, "by_packing_alone", bk_fit_name(fit->by_packing));
    bk_json_put(out, "published_rule_french",
                fit->rule_french ? bk_json_new_integer(fit->rule_french) : bk_json_new_null());
    bk_json_put(out, "section", section_json(state, fit));
    for (int g = 0; g < BK_GUIDES; g++) {
        bk_json *one = bk_json_object();
        bk_json_put_integer(one, "french", BK_GUIDE_FROM + g);
        put_verdict(one, &state->fit[g]);
        bk_json_push(all, one);
    }
    bk_json_put(out, "in", all);
    return out;
}

static bk_json *guides_json(const bk_guide *guide)
{
    bk_json *list = bk_json_array();
    for (int g = 0; g < BK_GUIDES; g++) {
        bk_json *one = bk_json_object();
        bk_json_put_integer(one, "french", BK_GUIDE_FROM + g);
        bk_json_put_fixed(one, "inner_mm", guide->inner_mm[g], 2);
        bk_json_put_text(one, "in_stock", guide->in_stock[g] ? "yes" : "no");
        bk_json_push(list, one);
    }
    return list;
}

static bk_json *extensions_json(const bk_guide *guide)
{
    bk_json *list = bk_json_array();
    for (int i = 0; i < BK_EXTENSIONS; i++) {
        const bk_guide_extension *e = &guide->extension[i];
        bk_json *one = bk_json_object();
        bk_json_put_integer(one, "french", e->french);
        bk_json_put_fixed(one, "inner_mm", e->inner_mm, 2);
        bk_json_put_text(one, "main_stent_and_side_wire", bk_fit_name(e->stent.verdict));
        bk_json_put_text(one, "kissing", bk_fit_name(e->kissing.verdict));
        bk_json_push(list, one);
    }
    return list;
}

static bk_json *exchange_json(const bk_guide *guide)
{
    bk_json *out = bk_json_object(), *ways = bk_json_array();
    char text[TEXT];
    bk_json_put_fixed(out, "wire_needed_cm", guide->exchange_cm, 0);
    bk_json_put_fixed(out, "for_catheter_cm", guide->catheter_cm, 0);
    bk_json_put_fixed(out, "standard_wire_cm", guide->standard_cm, 0);
    bk_json_put_fixed(out, "longest_in_stock_cm", guide->longest_cm, 0);
    bk_json_put_text(out, "standard_wire_is_enough", guide->standard_cm >= guide->exchange_cm ? "yes" : "no");
    if (guide->longest_cm >= guide->exchange_cm) {
        bk_format(text, sizeof text, "a wire of %.0f cm from the stock list", guide->longest_cm);
        bk_json_push(ways, bk_json_new_text(text));
    }
    bk_json_push(ways, bk_json_new_text("a wire extension, where the wire takes one"));
    bk_json_push(ways,
                 bk_json_new_text("a balloon in the guide that traps the wire: 7 F, or low profiles in 6 F"));
    bk_json_push(ways, bk_json_new_text("the dual-lumen microcatheter leaves over its rapid-exchange wire; "
                                        "the wire in its other lumen needs the full length"));
    bk_json_put(out, "ways", ways);
    return out;
}

int bk_devices_decided_french(const bk_devices_view *view)
{
    const int french = view->asked->c->decision.guide_french;
    return french == BK_INTEGER_ABSENT ? 0 : french;
}

bk_json *bk_devices_guide_json(const bk_devices_view *view)
{
    const bk_guide *guide = view->guide;
    const int decided = bk_devices_decided_french(view);
    const int french = decided ? decided : guide->french ? guide->french : SHOWN;
    bk_json *out = bk_json_object(), *states = bk_json_array();
    bk_json_put(out, "french", guide->french ? bk_json_new_integer(guide->french) : bk_json_new_null());
    bk_json_put(out, "decided_french", decided ? bk_json_new_integer(decided) : bk_json_new_null());
    bk_json_put_integer(out, "verdicts_for_french", french);
    bk_json_put_fixed(out, "inner_mm", guide->inner_mm[french - BK_GUIDE_FROM], 2);
    bk_json_put_fixed(out, "margin_mm", bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("fit_margin")),
                      2);
    for (size_t i = 0; i < guide->n; i++)
        bk_json_push(states, state_json(&guide->states[i], french));
    bk_json_put(out, "states", states);
    bk_json_put(out, "guides", guides_json(guide));
    bk_json_put(out, "extension", extensions_json(guide));
    bk_json_put(out, "exchange", exchange_json(guide));
    return out;
}

void bk_devices_note_guide(const bk_devices_view *view, bk_answer *answer)
{
    static const char *const sources[] = {BK_EVIDENCE("guide_six_french"),
                                          BK_EVIDENCE("guide_seven_french"),
                                          BK_EVIDENCE("guide_eight_french"),
                                          BK_EVIDENCE("guide_inner_6"),
                                          BK_EVIDENCE("guide_inner_7"),
                                          BK_EVIDENCE("guide_inner_8"),
                                          BK_EVIDENCE("fit_margin"),
                                          BK_EVIDENCE("fit_rigid"),
                                          BK_EVIDENCE("wire_diameter"),
                                          BK_EVIDENCE("profile_balloon_front"),
                                          BK_EVIDENCE("profile_stent_front"),
                                          BK_EVIDENCE("profile_rx_shaft"),
                                          BK_EVIDENCE("profile_hypotube"),
                                          BK_EVIDENCE("profile_dual_lumen"),
                                          BK_EVIDENCE("profile_microcatheter_shaft"),
                                          BK_EVIDENCE("dual_lumen_build"),
                                          BK_EVIDENCE("extension_inner_6"),
                                          BK_EVIDENCE("extension_inner_7"),
                                          BK_EVIDENCE("extension_kissing"),
                                          BK_EVIDENCE("wire_length"),
                                          BK_EVIDENCE("guide_length"),
                                          BK_EVIDENCE("vessel_length_in"),
                                          BK_EVIDENCE("microcatheter_length"),
                                          BK_EVIDENCE("fit_wire_in_hand")};
    for (size_t i = 0; i < sizeof sources / sizeof sources[0]; i++)
        bk_answer_source(answer, sources[i]);
    for (size_t i = 0; i < view->guide->n; i++)
        if (view->guide->states[i].fit[0].rule_row)
            bk_answer_source(answer, view->guide->states[i].fit[0].rule_row);
    bk_answer_caution(answer, "Guide fit is geometry with typical profiles and rigid circles, which ask for "
                              "too much: tight and no are settled on the table.");
    bk_answer_caution(answer,
                      "Kissing through a guide extension is an exception: try the pair on the table first.");
    if (!view->guide->french)
        bk_answer_caution(answer, "No guide up to 8 F takes every planned moment of this strategy by "
                                  "packing; verdicts are shown for 6 F.");
}
