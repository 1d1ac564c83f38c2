/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Of `ask protect`: steps that leave the branch bare, harms of the wire, what is at stake. */
#include <math.h>

#include "app/ask_protect.h"

/* ---- exposed steps ---- */

static bk_json *exposed_json(enum bk_strategy strategy, bk_wire_leaves leaves, const char *only_if)
{
    bk_step steps[BK_STEPS_MAX];
    const char *order_row;
    bk_json *list = bk_json_array();
    const size_t n = bk_steps_plan(strategy, leaves, steps, &order_row);
    for (size_t i = 0; i < n; i++) {
        if (!steps[i].exposed)
            continue;
        bk_json *entry = bk_json_object();
        bk_json_put_integer(entry, "n", (int)i + 1);
        bk_json_put_text(entry, "id", bk_step_names[steps[i].id]);
        bk_json_put_text(entry, "side_branch", bk_branch_wire_words(steps[i].side));
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
    const enum bk_strategy strategy =
        bk_steps_strategy(asked->c->decision.strategy, asked->c->decision.wire_side);
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
        BK_EVIDENCE("harm_equipment"),   BK_EVIDENCE("jailed_balloon_entrapped")};
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
                                       BK_EVIDENCE("stake_ffr_guided"), BK_EVIDENCE("stake_dissent")};
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

void bk_protect_put_stake(const bk_asked *asked, bk_answer *answer)
{
    const bk_limb_facts *side = &asked->facts->limb[BK_SIDE];
    bk_json *out = bk_json_object();
    bk_json_put_qty(out, "side_reference_mm", side->reference_mm.q, 2);
    bk_json_put_qty(out, "side_length_mm", side->vessel_length_mm.q, 0);
    bk_json_put_null(out, "territory");
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
    bk_answer_missing(answer, "stake.territory",
                      "the territory of the side branch is not worked out in this version");
    bk_json_put(answer->json, "stake", out);
}
