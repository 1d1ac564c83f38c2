/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Of `ask protect`: steps that leave the branch bare, harms of the wire, what is at stake. */
#include <math.h>

#include "app/ask_protect.h"
#include "app/ffr_outlook.h"
#include "core/flow/territory.h"
#include "core/num.h"
#include "core/plan/options.h"

/* ---- exposed steps ---- */

static bk_json *exposed_json(enum bk_strategy strategy, bk_wire_leaves leaves, const char *only_if)
{
    bk_step steps[BK_STEPS_MAX];
    const char *order_row;
    bk_json *list = bk_json_array();
    const size_t n = bk_steps_plan(strategy, leaves, steps, &order_row);
    bool left = false; /* the jailed wire has been taken out */
    for (size_t i = 0; i < n; i++) {
        left = left || steps[i].id == BK_STEP_WITHDRAW_JAILED_WIRE;
        if (!steps[i].exposed)
            continue;
        bk_json *entry = bk_json_object();
        bk_json_put_integer(entry, "n", (int)i + 1);
        bk_json_put_text(entry, "id", bk_step_names[steps[i].id]);
        bk_json_put_text(entry, "side_branch", bk_branch_wire_words(steps[i].side));
        bk_json_put_text(entry, "when", left ? "after the wire has left" : "before a wire lies in the side branch");
        if (steps[i].if_needed || only_if)
            bk_json_put_text(entry, "only_if", only_if ? only_if : "the angiogram asks for more");
        bk_json_push(list, entry);
    }
    return list;
}

void bk_protect_put_exposed(const bk_asked *asked, bk_answer *answer)
{
    static const struct {
        bk_wire_leaves leaves;
        const char *row, *only_if;
    } habits[] = {{BK_LEAVES_LAST, BK_EVIDENCE("wire_leaves_last"), NULL},
                  {BK_LEAVES_BEFORE_POT, BK_EVIDENCE("wire_leaves_first"), NULL},
                  {BK_LEAVES_BEFORE_HIGH_PRESSURE, BK_EVIDENCE("wire_leaves_layer"),
                   "at high pressure, or over a second layer"}};
    const enum bk_strategy strategy = bk_options_in_view(asked->c, asked->facts, bk_evidence_builtin());
    const enum bk_strategy wired = strategy == BK_PROVISIONAL ? BK_PROVISIONAL_WIRE : strategy;
    bk_step steps[BK_STEPS_MAX];
    const char *order_row;
    bk_json *list = bk_json_array();
    bk_json_put_text(answer->json, "strategy", bk_strategy_names[strategy]);
    bk_json_put(answer->json, "exposed_steps", exposed_json(strategy, BK_LEAVES_LAST, NULL));
    if (bk_steps_plan(strategy, BK_LEAVES_LAST, steps, &order_row) == 0)
        bk_answer_missing(answer, "exposed_steps",
                          "the order of steps of this strategy was not read: cannot say");
    for (size_t i = 0; i < sizeof habits / sizeof habits[0]; i++) {
        const bk_evidence *row = bk_evidence_find(bk_evidence_builtin(), habits[i].row);
        bk_json *entry = bk_json_object();
        bk_json_put_text(entry, "id", row->id);
        bk_json_put_text(entry, "text", row->text);
        bk_json_put_bool(entry, "default", habits[i].leaves == BK_LEAVES_LAST);
        bk_json_put_text(entry, "strategy", bk_strategy_names[wired]);
        bk_json_put(entry, "exposed_steps", exposed_json(wired, habits[i].leaves, habits[i].only_if));
        bk_json_put_text(entry, "standing", bk_standing_name(row->standing));
        bk_json_push(list, entry);
        bk_answer_source(answer, row->id);
    }
    bk_json_put(answer->json, "wire_leaves", list);
}

/* ---- rows as they stand ---- */

static bk_json *row_json(const char *id, bk_answer *answer)
{
    const bk_evidence *row = bk_evidence_find(bk_evidence_builtin(), id);
    bk_json *entry = bk_json_object();
    bk_json_put_text(entry, "id", row->id);
    bk_json_put_text(entry, "name", row->name);
    bk_json_put_real(entry, "value", row->value);
    bk_json_put_text(entry, "unit", isnan(row->value) ? NULL : row->unit);
    bk_json_put_text(entry, "text", row->text);
    bk_json_put_text(entry, "end_point", row->end_point);
    bk_json_put_text(entry, "population", row->population);
    bk_json_put_text(entry, "standing", bk_standing_name(row->standing));
    bk_answer_source(answer, row->id);
    return entry;
}

void bk_protect_put_harms(bk_answer *answer)
{
    static const char *const rows[] = {
        BK_EVIDENCE("harm_dissection"),  BK_EVIDENCE("harm_entrapment"),
        BK_EVIDENCE("harm_no_fracture"), BK_EVIDENCE("harm_damage_plain"),
        BK_EVIDENCE("harm_pressure"),    BK_EVIDENCE("harm_damage_polymer"),
        BK_EVIDENCE("harm_jacket_mi"),   BK_EVIDENCE("harm_coating"),
        BK_EVIDENCE("harm_equipment"),   BK_EVIDENCE("jailed_balloon_entrapped"),
        BK_EVIDENCE("harm_review"),      BK_EVIDENCE("harm_pressure_grade"),
        BK_EVIDENCE("wiring_time")};
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        bk_json_push(list, row_json(rows[i], answer));
    bk_json_put(answer->json, "harms", list);
}

/* What followed a lost branch, and what speaks against fearing every narrowed ostium. */
static bk_json *consequences_json(bool lad, bk_answer *answer)
{
    static const char *const rows[] = {BK_EVIDENCE("cobis2_hazard"),    BK_EVIDENCE("lost_infarction"),
                                       BK_EVIDENCE("lost_fate"),        BK_EVIDENCE("jailed_wire_recovery"),
                                       BK_EVIDENCE("lost_treated"),     BK_EVIDENCE("stake_small_silent"),
                                       BK_EVIDENCE("stake_pinched"),    BK_EVIDENCE("stake_carina_ffr"),
                                       BK_EVIDENCE("stake_ffr_guided"), BK_EVIDENCE("stake_dissent"),
                                       BK_EVIDENCE("lost_success"),     BK_EVIDENCE("lost_old_era"),
                                       BK_EVIDENCE("stake_jailed_ffr"), BK_EVIDENCE("stake_side_against_main")};
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        bk_json_push(list, row_json(rows[i], answer));
    if (lad) {
        bk_json_push(list, row_json(BK_EVIDENCE("stake_diagonals"), answer));
        bk_json_push(list, row_json(BK_EVIDENCE("stake_size_misleads"), answer));
    }
    return list;
}

/* ---- what is at stake ---- */

/* The last pressure reading in the side branch before stenting. */
static bk_json *side_pressure(const bk_case *c)
{
    static const char *const indices[] = {"", "ffr", "resting_ratio"};
    const bk_physiology *found = NULL;
    for (size_t i = 0; i < c->physiology.n; i++) {
        const bk_physiology *p = &BK_ITEMS(c->physiology, bk_physiology)[i];
        if (p->limb - 1 == BK_SIDE && bk_has(p->value) &&
            (p->stage == BK_STAGE_BASELINE || p->stage == BK_STAGE_NOT_SAID))
            found = p;
    }
    if (!found)
        return bk_json_new_null();
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "index", indices[found->index]);
    bk_json_put_qty(out, "value", found->value, 2);
    return out;
}

/* As `ask territory` leads with it: the first method that knows the side branch. */
static bk_json *territory_json(const bk_asked *asked, bk_answer *answer)
{
    const bk_territory t =
        bk_territory_of(asked->facts, &asked->c->patient, asked->c->anatomy.site, bk_evidence_builtin());
    for (int m = 0; m < BK_TERRITORY_METHODS; m++) {
        const bk_mass grams = t.grams[m][BK_SIDE], pct = t.percent[m][BK_SIDE];
        if (isnan(grams.value) && isnan(pct.value))
            continue;
        bk_json *out = bk_json_object();
        bk_json_put(out, "mass_g", bk_mass_json(&grams));
        bk_json_put(out, "mass_pct", bk_mass_json(&pct));
        bk_json_put_text(out, "method", bk_territory_method_names[m]);
        bk_answer_caution(answer, "The territory rests on published grams that are quoted from another text, not "
                                  "verified: rule mass_10pct decides nothing alone.");
        return out;
    }
    bk_answer_missing(answer, "stake.territory", "what it needs is said in the answer on territory");
    return bk_json_new_null();
}

/* Computed; a measured pressure stands beside it and leads. */
static bk_json *side_ffr_before(const bk_asked *asked, bk_answer *answer)
{
    bk_json *outlook = bk_ffr_outlook(asked);
    const bk_json *ffr = bk_ffr_before(outlook, BK_SIDE);
    bk_json *out = ffr ? bk_json_copy(ffr) : bk_json_new_null();
    bk_json_free(outlook);
    if (!ffr)
        bk_answer_missing(answer, "stake.side_ffr_before", "what it needs is said in the answer on flow");
    return out;
}

void bk_protect_put_stake(const bk_asked *asked, bk_answer *answer)
{
    const bk_limb_facts *side = &asked->facts->limb[BK_SIDE];
    bk_json *out = bk_json_object();
    bk_json_put_qty(out, "side_reference_mm", side->reference_mm.q, 2);
    bk_json_put_qty(out, "side_length_mm", side->vessel_length_mm.q, 0);
    bk_json_put(out, "territory", territory_json(asked, answer));
    bk_json_put(out, "side_ffr_before", side_ffr_before(asked, answer));
    bk_json_put(out, "side_pressure", side_pressure(asked->c));
    bk_json_put_text(out, "viable", bk_tri_name(asked->c->anatomy.viable));
    bk_json_put_text(out, "last_patent_vessel", bk_tri_name(asked->c->anatomy.last_patent_vessel));
    const bk_evidence *share = bk_evidence_find(
        bk_evidence_builtin(), asked->c->anatomy.site == BK_LEFT_MAIN ? BK_EVIDENCE("stake_left_main")
                                                                      : BK_EVIDENCE("stake_not_left_main"));
    bk_json_put_text(out, "published", asked->c->anatomy.site ? share->text : NULL);
    if (asked->c->anatomy.site)
        bk_answer_source(answer, share->id);
    bk_json_put(out, "consequences", consequences_json(asked->c->anatomy.site == BK_LAD_DIAGONAL, answer));
    bk_json_put(answer->json, "stake", out);
}
