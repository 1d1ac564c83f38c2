/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `ask steps`: the order of a technique with its sizes, and the ladder when the side branch closes. */
#include "app/ask_branch.h"
#include "base/format.h"
#include "core/plan/fit.h"
#include "core/plan/options.h"

#include <string.h>

#define TEXT 400
#define GUIDE_FRENCH 6 /* smallest guide of the strategies; rows guide_provisional and others */
#define PROFILE "the side ostium in profile, as little foreshortened as the arm can reach"
#define LOW_PRESSURE_WIRE "0.014 in wire, tip load at most 1 g (common practice)"

/* What does not depend on the case. */
typedef struct step_words {
    const char *does, *with, *view, *check, *if_not; /* with: in front of the sized devices */
} step_words;

static const step_words words[BK_STEP_IDS] = {
    [BK_STEP_WIRE_MAIN] = {"wire the main vessel", LOW_PRESSURE_WIRE, PROFILE,
                           "tip free in the distal main vessel", "other tip shape or wire, microcatheter"},
    [BK_STEP_WIRE_SIDE] =
        {"wire the side branch, the harder branch first",
         LOW_PRESSURE_WIRE "; keep the length to be jailed short", PROFILE,
         "tip free in the side branch, wires not wrapped around each other",
         "other tip shape, hydrophilic wire, angled or dual-lumen microcatheter, reverse wire"},
    [BK_STEP_PREDILATE] = {"predilate the main vessel, the side branch only if needed", NULL, PROFILE,
                           "balloon fully open, no dissection, side branch TIMI 3",
                           "non-compliant balloon 1:1, or calcium modified first"},
    [BK_STEP_STENT_MAIN] = {"open the main stent, sized by the distal main reference", NULL, PROFILE,
                            "side branch TIMI: 3, or the ladder below; distal main vessel without dissection",
                            "predilate again before forcing it"},
    [BK_STEP_STENT_SIDE_FIRST] = {"open the side stent with 1 to 2 mm in the main vessel", NULL, PROFILE,
                                  "ostium covered, side branch TIMI 3", "predilate again"},
    [BK_STEP_CLEAR_SIDE] = {"take wire and balloon out of the side branch", NULL, PROFILE,
                            "nothing left in the side branch", "do not crush over a wire"},
    [BK_STEP_CRUSH] = {"crush the protruding side stent with a balloon 1:1 to the proximal main vessel", NULL,
                       PROFILE, "main vessel round, side branch TIMI 3", "larger or non-compliant balloon"},
    [BK_STEP_POT] =
        {"proximal optimisation, distal shoulder at the carina and not beyond", NULL,
         "proximal main vessel, as little foreshortened as the arm can reach",
         "stent apposed up to its proximal edge; a balloon shorter than that part is opened twice",
         "larger balloon, inside the limit of the stent's label"},
    [BK_STEP_ANGIOGRAM] = {"look at the side branch and decide: stop, or go on", "contrast", PROFILE, NULL,
                           "measure pressure where only the ostium looks narrow"},
    [BK_STEP_RECROSS] = {"wire the side branch through the distal cell, pulling back a shaped wire",
                         LOW_PRESSURE_WIRE, "two views",
                         "path of the wire in two views: through the last cell, not behind a strut",
                         "proximal optimisation again, other cell, other wire, microcatheter"},
    [BK_STEP_WITHDRAW_JAILED_WIRE] =
        {"take the jailed wire out, slowly, with the guide drawn back and watched", NULL,
         "guide and proximal stent edge in one picture",
         "before: side branch TIMI 3 and no side step to come, or re-crossing confirmed; after: wire "
         "complete, guide not drawn in",
         "stop pulling; microcatheter or balloon over the wire as counter-traction"},
    [BK_STEP_SIDE_BALLOON] = {"open the cell to the side branch", NULL, PROFILE, "balloon fully open",
                              "smaller balloon first (1.0 to 1.5 mm)"},
    [BK_STEP_KISSING] =
        {"kissing inflation: side balloon first, then both, deflated together; least possible overlap", NULL,
         PROFILE, "both balloons fully open, side branch TIMI 3",
         "side balloon does not pass: smaller balloon, proximal optimisation, other cell"},
    [BK_STEP_STENT_SIDE] = {NULL, NULL, PROFILE, "ostium covered, side branch TIMI 3",
                            "predilate the side branch again"},
    [BK_STEP_RECROSS_MAIN] = {"wire the distal main vessel through the second stent", LOW_PRESSURE_WIRE,
                              "two views", "path of the wire in two views",
                              "proximal optimisation again, microcatheter"},
    [BK_STEP_KISSING_FINAL] = {"final kissing inflation, least possible overlap", NULL, PROFILE,
                               "both balloons fully open", "smaller side balloon first, other cell"},
    [BK_STEP_POT_AGAIN] = {"proximal optimisation again, short of the carina", NULL,
                           "proximal main vessel, as little foreshortened as the arm can reach",
                           "proximal main vessel round, side branch TIMI 3",
                           "larger balloon, inside the limit of the stent's label"},
    [BK_STEP_KISSING_PREDILATE] = {"predilate both daughters together, side by side",
                                   "two balloons, each smaller than its daughter's reference", PROFILE,
                                   "no dissection in either daughter, side branch TIMI 3",
                                   "one daughter after the other"},
    [BK_STEP_LAY_SIDE_BALLOON] = {"lay a balloon across the side ostium, about 1 mm into the main vessel",
                                  "balloon of half the main stent's diameter and at most the side reference",
                                  PROFILE, "proximal marker just inside the main vessel",
                                  "smaller balloon, or a wire alone"},
    [BK_STEP_WITHDRAW_SIDE_BALLOON] =
        {"take the side balloon out, the wire stays jailed", NULL,
         "guide and proximal stent edge in one picture",
         "balloon fully empty before; guide not drawn in after",
         "inflate it again at low pressure, empty it, pull with the guide drawn back and watched"},
    [BK_STEP_DRUG_BALLOON] =
        {"open a drug-coated balloon in the side branch, as long as its label says",
         "drug-coated balloon 1:1 to the side reference, longer than the prepared stretch", PROFILE,
         "before: little stenosis left, no dissection that limits flow; after: TIMI 3",
         "prepare again; a stent where flow stays below TIMI 3"},
    [BK_STEP_STENT_LIMB] =
        {"open the stent in the one diseased limb, its edge at the carina", NULL, PROFILE,
         "the other daughter's ostium as before, TIMI 3 in both",
         "treat the ostium that closed: open the cell, or cross over into the main vessel"},
    [BK_STEP_FINISH] = {"final angiogram, wires out", "contrast", "the views of the first angiogram",
                        "TIMI 3 in all limbs, no dissection, no contrast outside",
                        "back to the step that failed"},
};

/* How the side stent is laid is what tells the techniques apart. */
static const char *does(const bk_step *step, enum bk_strategy strategy)
{
    if (step->id == BK_STEP_STENT_MAIN && strategy == BK_INVERTED)
        return "open the stent from the proximal main vessel into the side branch, sized by the side "
               "reference";
    if (step->id == BK_STEP_STENT_MAIN && strategy == BK_JAILED_BALLOON)
        return "open the main stent and the side balloon together, at the same pressure";
    if (step->id != BK_STEP_STENT_SIDE)
        return words[step->id].does;
    if (strategy == BK_TAP)
        return "open the side stent with the least protrusion, a balloon lying uninflated in the main vessel";
    if (strategy == BK_CULOTTE)
        return "open the second stent from the side branch into the proximal main vessel, a few millimetres "
               "of overlap";
    return "open the side stent at the ostium, without protrusion";
}

/* "wire; main_stent 3.00 mm": what is on the table for it. */
static void put_with(bk_json *out, const bk_step *step, const bk_devices *devices)
{
    char text[TEXT] = "";
    size_t used = 0;
    if (words[step->id].with) {
        bk_format(text, sizeof text, "%s", words[step->id].with);
        used = strlen(text);
    }
    for (int k = 0; k < 2; k++)
        for (size_t i = 0; i < devices->n; i++) {
            if (devices->items[i].use != step->uses[k])
                continue;
            const bk_size_choice *size = &devices->items[i].size;
            bk_format(text + used, sizeof text - used,
                      size->known ? "%s%s %.2f mm" : "%s%s, size cannot be said", used ? "; " : "",
                      bk_use_words[step->uses[k]], size->nominal_mm);
            used = strlen(text);
        }
    bk_json_put_text(out, "with", used ? text : "nothing new");
}

static const char *exposure(const bk_step *step)
{
    static const char *const states[] = {
        "side branch bare: if it closes now, only crossing from the main vessel is left",
        "wire in the side branch", "jailed wire in the side branch: landmark and sometimes a channel",
        "wire through the cell"};
    return step->inflates_main ? states[step->side] : "nothing is opened in the main vessel";
}

static bk_json *step_json(int n, const bk_step *step, enum bk_strategy strategy, const bk_devices *devices)
{
    const step_words *w = &words[step->id];
    char text[TEXT];
    bk_json *out = bk_json_object();
    bk_json_put_integer(out, "n", n);
    bk_json_put_text(out, "id", bk_step_names[step->id]);
    bk_json_put_text(out, "do", does(step, strategy));
    put_with(out, step, devices);
    bk_json_put_text(out, "view", w->view);
    bk_format(text, sizeof text, "side branch TIMI 3 and stenosis below %.0f %%: stop here; else go on",
              bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("bailout_stenosis")));
    bk_json_put_text(out, "check", step->id == BK_STEP_ANGIOGRAM ? text : w->check);
    bk_json_put_text(out, "exposes", exposure(step));
    bk_json_put_text(out, "side_branch", bk_branch_wire_words(step->side));
    bk_json_put_bool(out, "exposed", step->exposed);
    bk_json_put_text(out, "if_not", w->if_not);
    bk_json_put_text(out, "only_if", step->if_needed ? "the angiogram asks for more" : NULL);
    return out;
}

/* ---- bail-out ---- */

#define IN_GUIDE_MAX 3

/* What lies in the guide at the tightest moment of a rung. */
typedef struct in_guide {
    size_t n;
    bk_kind kinds[IN_GUIDE_MAX];
} in_guide;

static bk_json *rung(int n, const char *does, const char *with, in_guide lies)
{
    bk_json *out = bk_json_object();
    bk_json_put_integer(out, "n", n);
    bk_json_put_text(out, "do", does);
    bk_json_put_text(out, "with", with);
    if (lies.n == 0) {
        bk_json_put_null(out, "guide_verdict");
        return out;
    }
    const bk_fit six = bk_fit_kinds(bk_evidence_builtin(), lies.kinds, lies.n, GUIDE_FRENCH);
    const bk_fit seven = bk_fit_kinds(bk_evidence_builtin(), lies.kinds, lies.n, GUIDE_FRENCH + 1);
    bk_json_put_text(out, "guide_verdict", bk_fit_name(six.verdict));
    bk_json_put_integer(out, "guide_french", GUIDE_FRENCH);
    bk_json_put_fixed(out, "guide_needed_mm", six.needed_mm, 2);
    bk_json_put_text(out, "guide_verdict_7f", bk_fit_name(seven.verdict));
    return out;
}

static bk_json *ladder(bool wired)
{
    bk_json *list = bk_json_array();
    char stop[TEXT];
    int n = 0;
    const in_guide nothing = {0};
    bk_format(stop, sizeof stop,
              "stop: reference below %.1f mm and the patient comfortable, or no loss of flow that limits",
              bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("ladder_stop")));
    bk_json_push(
        list,
        rung(n++, "pressure, ECG, guide position, clotting time, nitrate into the coronary; spasm or air?",
             "nitrate", nothing));
    if (wired)
        bk_json_push(list, rung(n++, "leave the jailed wire where it is: landmark, sometimes a channel",
                                "nothing new", nothing));
    bk_json_push(list, rung(n++, "proximal optimisation short of the carina", "POT balloon",
                            (in_guide){2, {BK_KIND_BALLOON, BK_KIND_WIRE}}));
    bk_json_push(list, rung(n++,
                            wired ? "third wire through the stent, distal cell; one wire class up at a time"
                                  : "second wire through the stent, distal cell; one wire class up at a time",
                            "wire; then dual-lumen or angled microcatheter",
                            (in_guide){wired ? 2 : 1, {BK_KIND_DUAL_LUMEN, BK_KIND_WIRE}}));
    if (wired)
        bk_json_push(list,
                     rung(n++, "small low-profile balloon over the jailed wire", "balloon of lowest profile",
                          (in_guide){3, {BK_KIND_BALLOON, BK_KIND_WIRE, BK_KIND_WIRE}}));
    bk_json_push(list, rung(n++, "microcatheter, then the balloon again", "microcatheter, balloon",
                            (in_guide){3, {BK_KIND_MICROCATHETER, BK_KIND_WIRE, BK_KIND_WIRE}}));
    bk_json_push(list,
                 rung(n++,
                      "branch open: kissing, proximal optimisation again; stent it when TIMI stays below 3, "
                      "dissection is type B or worse, or "
                      "70 to 75 % and more remain, and the branch is relevant (from memory; trials differ)",
                      "kissing pair, then side stent", (in_guide){2, {BK_KIND_BALLOON, BK_KIND_BALLOON}}));
    bk_json_push(list, rung(n, stop, "nothing new", nothing));
    return list;
}

static bk_json *bail_out(bool wired)
{
    bk_json *list = bk_json_array(), *entry = bk_json_object();
    bk_json_put_text(entry, "trigger", "side branch below TIMI 3 after an inflation in the main vessel");
    bk_json_put(entry, "ladder", ladder(wired));
    bk_json_push(list, entry);
    return list;
}

/* ---- the answer ---- */

static void note_sources(const char *order_row, bool two_stents, bk_answer *answer)
{
    static const char *const always[] = {BK_EVIDENCE("wire_leaves_last"),
                                         BK_EVIDENCE("steps_jailed_wire_after"),
                                         BK_EVIDENCE("recross_distal_cell"),
                                         BK_EVIDENCE("recross_success"),
                                         BK_EVIDENCE("side_wire_length"),
                                         BK_EVIDENCE("wire_withdrawal"),
                                         BK_EVIDENCE("bailout_stenosis"),
                                         BK_EVIDENCE("stake_pinched"),
                                         BK_EVIDENCE("pot_position_at"),
                                         BK_EVIDENCE("kissing_minimal_overlap"),
                                         BK_EVIDENCE("kissing_one_stent"),
                                         BK_EVIDENCE("ladder_first"),
                                         BK_EVIDENCE("ladder_order"),
                                         BK_EVIDENCE("ladder_stent"),
                                         BK_EVIDENCE("ladder_stop"),
                                         BK_EVIDENCE("ladder_outcome"),
                                         BK_EVIDENCE("jailed_wire_recovery"),
                                         BK_EVIDENCE("guide_inner_6"),
                                         BK_EVIDENCE("guide_inner_7"),
                                         BK_EVIDENCE("fit_margin"),
                                         BK_EVIDENCE("guide_six_french"),
                                         BK_EVIDENCE("wire_diameter"),
                                         BK_EVIDENCE("profile_balloon_front"),
                                         BK_EVIDENCE("profile_dual_lumen"),
                                         BK_EVIDENCE("profile_microcatheter_shaft"),
                                         BK_EVIDENCE("profile_rx_shaft")};
    if (order_row)
        bk_answer_source(answer, order_row); // ids of the table in core/plan/steps.c
    for (size_t i = 0; i < sizeof always / sizeof always[0]; i++)
        bk_answer_source(answer, always[i]);
    if (two_stents) {
        bk_answer_source(answer, BK_EVIDENCE("kissing_two_stents"));
        bk_answer_source(answer, BK_EVIDENCE("bailout_tap_angle"));
        bk_answer_source(answer, BK_EVIDENCE("bailout_culotte_angle"));
    }
}

static void note_order(const bk_asked *asked, enum bk_strategy strategy, const char *order_row,
                       bk_answer *answer)
{
    const bk_evidence *row = order_row ? bk_evidence_find(bk_evidence_builtin(), order_row) : NULL;
    if (asked->c->decision.strategy == BK_STRATEGY_NOT_SAID)
        bk_answer_missing(answer, "decision.strategy",
                          "not decided: the steps are of the first option in the answer on strategies");
    if (!row)
        bk_answer_missing(answer, "steps",
                          "the order of steps of this strategy was not read in any source: cannot say");
    else if (row->standing != BK_SEEN)
        bk_answer_caution(answer, "The order of these steps is not verified (%s): check it before use.",
                          bk_standing_name(row->standing));
    if (strategy == BK_JAILED_BALLOON)
        bk_answer_source(answer, BK_EVIDENCE("steps_jailed_balloon"));
    if (strategy == BK_INVERTED)
        bk_answer_caution(answer,
                          "Inverted: what these steps call the side branch is the daughter that the stent "
                          "crosses, the distal main vessel.");
    if (strategy == BK_DK_CULOTTE)
        bk_answer_source(answer, BK_EVIDENCE("steps_dk_culotte"));
    bk_answer_missing(answer, "steps[].view",
                      "no angles: which view the arm can reach is not worked out in this version");
    bk_answer_caution(
        answer, "Whether a rung fits the guide is told from typical profiles by rigid circles: the labels "
                "of guide and devices decide.");
}

/* Of a strategy whose steps cannot be said, only the decision tells. */
static bool jails_a_wire(const bk_step *steps, size_t n, bk_tri decided)
{
    for (size_t i = 0; i < n; i++)
        if (steps[i].side == BK_SIDE_JAILED)
            return true;
    return n == 0 && decided == BK_YES;
}

void bk_answer_steps(const bk_asked *asked, bk_answer *answer)
{
    const enum bk_strategy strategy = bk_options_in_view(asked->c, asked->facts, bk_evidence_builtin());
    const bk_devices devices =
        bk_devices_plan(asked->facts, asked->c->anatomy.calcium, (int)strategy, bk_evidence_builtin());
    bk_step steps[BK_STEPS_MAX];
    const char *order_row;
    const size_t n = bk_steps_plan(strategy, BK_LEAVES_LAST, steps, &order_row);
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < n; i++)
        bk_json_push(list, step_json((int)i + 1, &steps[i], strategy, &devices));
    bk_json_put_text(answer->json, "strategy", bk_strategy_names[strategy]);
    bk_json_put(answer->json, "steps", list);
    bk_json_put(answer->json, "bail_out", bail_out(jails_a_wire(steps, n, asked->c->decision.wire_side)));
    for (int limb = 0; limb < BK_LIMBS; limb++)
        bk_answer_input(answer,
                        (const char *const[]){"anatomy.segments.proximal.reference_mm",
                                              "anatomy.segments.distal.reference_mm",
                                              "anatomy.segments.side.reference_mm"}[limb],
                        &asked->facts->limb[limb].reference_mm, "mm", asked->facts->measurement);
    note_order(asked, strategy, order_row, answer);
    note_sources(order_row, devices.strategy.second_stent, answer);
    if (devices.withdrawn)
        bk_answer_caution(answer, "The ways to the scale disagree: sizes taken from the picture are held "
                                  "back until that is settled.");
    bk_answer_caution(answer, "The jailed wire leaves last here; the other habits and what they expose are "
                              "in the answer on protection.");
}
