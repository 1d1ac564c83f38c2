/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `ask strategies`: the options of core/plan/options.h in words, with what was published for and against each.
   Laid out in an order, never chosen. */
#include <math.h>

#include "app/ask_strategies.h"
#include "app/ffr_outlook.h"
#include "base/format.h"

#define TEXT 200

/* ---- conditions ---- */

static void condition_words(char text[TEXT], const bk_condition *c)
{
    if (c->complex)
        bk_format(text, TEXT, "complex by DEFINITION: one major and two minor criteria");
    else
        bk_branch_rule_text(text, TEXT, &c->test, "");
}

static bk_json *condition_json(const bk_condition *c, bk_answer *answer)
{
    char text[TEXT];
    const char *unit = bk_branch_unit(&c->test);
    bk_json *out = bk_json_object();
    condition_words(text, c);
    bk_json_put_text(out, "id", c->id);
    bk_json_put_text(out, "text", text);
    bk_json_put_text(out, "met", bk_tri_name(c->met));
    bk_branch_put_amount(out, "value", c->value, unit);
    bk_branch_put_amount(out, "threshold", c->test.threshold, unit);
    bk_json_put_text(out, "unit", unit);
    bk_json_put_bool(out, "at_least", c->at_least);
    bk_branch_put_certainty(out, c->certainty_pct, &c->test);
    bk_json_put_text(out, "source", c->row->id);
    bk_json_put_text(out, "standing", bk_standing_name(c->row->standing));
    bk_answer_source(answer, c->row->id);
    return out;
}

static void note_missing(const bk_option *option, const bk_strategies_setting *s)
{
    char needed_by[TEXT];
    for (size_t i = 0; i < option->n; i++) {
        const bk_condition *c = &option->conditions[i];
        if (c->met != BK_UNKNOWN)
            continue;
        bk_format(needed_by, sizeof needed_by, "would settle condition %s of %s", c->id,
                  bk_strategy_names[option->strategy]);
        if (c->complex)
            bk_answer_missing(s->answer, "complex_by_definition",
                              "what it lacks is said in the answer on risk, model definition");
        else if (c->test.relation != BK_IS)
            bk_branch_note_missing(s->inputs, bk_risk_quantity_inputs(c->test.quantity), needed_by, s->answer);
        else
            bk_answer_missing(s->answer, "v_resolve_12_points",
                              "no point table from the primary paper has been entered: the score is not computed");
    }
}

/* ---- what belongs to one strategy only ---- */

static bk_json *pathway(const char *row_id, bk_tri is, const char *medina, bk_answer *answer)
{
    const bk_evidence *row = bk_evidence_find(bk_evidence_builtin(), row_id);
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "medina", medina);
    bk_json_put_text(out, "text", row->text);
    bk_json_put_text(out, "this_case", bk_tri_name(is));
    bk_json_put_text(out, "standing", bk_standing_name(row->standing));
    bk_answer_source(answer, row->id);
    return out;
}

static bk_tri diseased(const bk_strategies_setting *s, bk_risk_quantity quantity)
{
    bk_span spans[BK_RISK_INPUTS];
    const bk_test test = {
        .relation = BK_AT_LEAST,
        .quantity = quantity,
        .threshold = bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("true_stenosis_line"))};
    bk_risk_spans(s->inputs, spans);
    return bk_test_met(&test, s->inputs, spans);
}

static bk_tri only(bk_tri one, bk_tri other, bk_tri third)
{
    if (one == BK_NO || other == BK_YES || third == BK_YES)
        return BK_NO;
    return one == BK_YES && other == BK_NO && third == BK_NO ? BK_YES : BK_UNKNOWN;
}

static bk_json *pathways_json(const bk_strategies_setting *s)
{
    const bk_tri p = diseased(s, BK_Q_PROXIMAL_STENOSIS), d = diseased(s, BK_Q_DISTAL_STENOSIS),
                 b = diseased(s, BK_Q_SIDE_STENOSIS);
    bk_json *list = bk_json_array();
    bk_json_push(list, pathway(BK_EVIDENCE("pathway_1_0_0"), only(p, d, b), "1,0,0", s->answer));
    bk_json_push(list, pathway(BK_EVIDENCE("pathway_0_1_0"), only(d, p, b), "0,1,0", s->answer));
    bk_json_push(list, pathway(BK_EVIDENCE("pathway_0_0_1"), only(b, p, d), "0,0,1", s->answer));
    return list;
}

static void put_axis(bk_json *out, const bk_option *option, const bk_strategies_setting *s)
{
    const bk_strategy_traits traits = bk_strategy_find((int)option->strategy);
    const bk_qty distal = s->asked->facts->limb[BK_DISTAL].reference_mm.q,
                 side = s->asked->facts->limb[BK_SIDE].reference_mm.q;
    char text[TEXT];
    bk_json_put_text(out, "axis", traits.sized ? bk_limb_names[traits.axis] : NULL);
    if (option->strategy != BK_INVERTED)
        return;
    if (bk_has(distal) && bk_has(side))
        bk_format(text, sizeof text, "the stent follows the side branch (%.2f mm) and crosses the distal main vessel (%.2f mm)",
                  side.value, distal.value);
    else
        bk_format(text, sizeof text, "the stent follows the side branch and crosses the distal main vessel");
    bk_json_put_text(out, "axis_text", text);
}

/* ---- one option ---- */

static void put_kit(bk_json *out, const char *key, const bk_option *option, const bk_kit *kit)
{
    bk_json *entry = bk_json_object();
    if (!option->steps_known) {
        bk_json_free(entry);
        bk_json_put_null(out, key);
        return;
    }
    bk_json_put_integer(entry, "steps", kit->steps);
    bk_json_put_integer(entry, "recrossings", kit->recrossings);
    bk_json_put_integer(entry, "wires", kit->wires);
    bk_json_put_integer(entry, "balloons", kit->balloons);
    bk_json_put_integer(entry, "stents", kit->stents);
    bk_json_put(out, key, entry);
}

static void put_count(bk_json *out, const char *key, const bk_option *option, int count)
{
    if (option->steps_known)
        bk_json_put_integer(out, key, count);
    else
        bk_json_put_null(out, key);
}

/* As `ask devices` would size it for this strategy; null where a reference is missing or a size held back. */
static bk_json *sizes_json(const bk_option *option, const bk_strategies_setting *s)
{
    const bk_devices devices = bk_devices_plan(s->asked->facts, s->asked->c->anatomy.calcium, (int)option->strategy,
                                               bk_evidence_builtin());
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < devices.n; i++) {
        const bk_size_choice *size = &devices.items[i].size;
        bk_json *item = bk_json_object();
        bk_json_put_text(item, "use", bk_use_names[devices.items[i].use]);
        bk_json_put_fixed(item, "diameter_mm", size->known ? size->nominal_mm : (double)NAN, 2);
        bk_json_push(list, item);
    }
    return list;
}

static bk_json *option_json(const bk_option *option, int rank, const bk_strategies_setting *s)
{
    bk_json *out = bk_json_object(), *conditions = bk_json_array();
    bk_json_put_text(out, "id", bk_strategy_names[option->strategy]);
    bk_json_put_text(out, "name", option->name);
    bk_json_put_text(out, "for_this_anatomy", bk_tri_name(option->fits));
    bk_json_put_bool(out, "first_three", rank < 3);
    for (size_t i = 0; i < option->n; i++)
        bk_json_push(conditions, condition_json(&option->conditions[i], s->answer));
    bk_json_put(out, "conditions", conditions);
    put_count(out, "steps_count", option, option->all.steps);
    put_count(out, "recrossings", option, option->all.recrossings);
    put_count(out, "wires", option, option->all.wires);
    put_count(out, "balloons", option, option->all.balloons);
    put_count(out, "stents", option, option->all.stents);
    put_kit(out, "if_the_angiogram_says_stop", option, &option->always);
    bk_json_put(out, "kit", sizes_json(option, s));
    bk_json_put_real(out, "guide_french", option->guide ? option->guide->value : (double)NAN);
    bk_json_put_text(out, "guide_why", option->guide ? option->guide->text : NULL);
    bk_json_put_text(out, "guide_standing", option->guide ? bk_standing_name(option->guide->standing) : NULL);
    put_axis(out, option, s);
    if (option->strategy == BK_SINGLE_LIMB)
        bk_json_put(out, "pathways", pathways_json(s));
    bk_json_put(out, "loss", bk_strategies_loss(option->strategy, s));
    bk_json_put(out, "ffr", bk_strategies_ffr(option->strategy, s));
    bk_json_put(out, "for", bk_strategies_rows(option->for_rows, s->answer));
    bk_json_put(out, "against", bk_strategies_rows(option->against_rows, s->answer));
    if (option->guide)
        bk_answer_source(s->answer, option->guide->id);
    return out;
}

/* ---- the answer ---- */

static void note(const bk_option options[BK_OPTIONS], const bk_strategies_setting *s)
{
    unsigned bits = 0;
    for (int i = 0; i < BK_OPTIONS; i++) {
        note_missing(&options[i], s);
        for (size_t k = 0; k < options[i].n; k++)
            if (options[i].conditions[k].test.relation != BK_IS)
                bits |= bk_risk_quantity_inputs(options[i].conditions[k].test.quantity);
        if (!options[i].steps_known)
            bk_answer_missing(s->answer, "options.dk_culotte.steps_count",
                              "the order of its steps was not read: neither steps nor kit can be said");
    }
    if (!bk_ffr_before(s->outlook, BK_SIDE))
        bk_answer_missing(s->answer, "options[].ffr", "what it needs is said in the answer on flow");
    bk_branch_note_inputs(s->asked, bits, s->answer);
    bk_answer_caution(s->answer, "Options are laid out, not chosen: the order counts conditions that published rules "
                                 "name, and weighs nothing. Most fitting is not best.");
    bk_answer_caution(s->answer, "Trials compared patients who met their entry criteria; a rate here is an arm's, never "
                                 "this patient's.");
    bk_branch_cautions(s->asked, s->answer);
}

void bk_answer_strategies(const bk_asked *asked, bk_answer *answer)
{
    bk_option options[BK_OPTIONS];
    const bk_evidence_set *evidence = bk_evidence_builtin();
    const bk_risk_inputs inputs = bk_risk_inputs_of(asked->c, asked->facts, evidence);
    const bk_protect protect = bk_protect_rules(&inputs, (bk_sampling){1, 0}, evidence);
    bk_json *outlook = bk_ffr_outlook(asked), *list = bk_json_array();
    const bk_strategies_setting s = {asked, &inputs, &protect, outlook, answer};
    bk_options_of(&inputs, asked->sampling, evidence, options);
    for (int i = 0; i < BK_OPTIONS; i++)
        bk_json_push(list, option_json(&options[i], i, &s));
    bk_json_put(answer->json, "options", list);
    bk_json_put_text(answer->json, "decided",
                     asked->c->decision.strategy ? bk_strategy_names[asked->c->decision.strategy] : NULL);
    bk_json_put_text(answer->json, "followed_by_devices_and_steps",
                     bk_strategy_names[bk_options_in_view(asked->c, asked->facts, evidence)]);
    bk_json_put_text(answer->json, "order_rule",
                     "for this anatomy yes before unknown before no; then conditions met less those not met; then the "
                     "order of the list. A choice of this project");
    note(options, &s);
    bk_json_free(outlook);
}
