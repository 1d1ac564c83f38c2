/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `ask protect`: rules, how certain they are, comparisons. The rest: ask_protect_stake.c. */
#include <math.h>

#include "app/ask_protect.h"
#include "base/format.h"
#include "core/risk/protect.h"

/* ---- rules ---- */

/* The line of the share of the mass was read; what stands against it rests on grams that were not. */
static bk_standing standing_of(const bk_protect_rule *rule)
{
    const bool mass = rule->test.relation != BK_IS && rule->test.quantity == BK_Q_SIDE_MASS;
    return mass && rule->met != BK_UNKNOWN ? BK_MEMORY : rule->row->standing;
}

static bk_json *rule_json(const bk_protect_rule *rule)
{
    char text[160];
    const char *unit = bk_branch_unit(&rule->test);
    bk_json *out = bk_json_object();
    bk_branch_rule_text(text, sizeof text, &rule->test, "");
    bk_json_put_text(out, "id", rule->id);
    bk_json_put_text(out, "text", text);
    bk_json_put_text(out, "met", bk_tri_name(rule->met));
    bk_branch_put_amount(out, "value", rule->value, unit);
    bk_branch_put_amount(out, "threshold", rule->line, unit);
    bk_json_put_text(out, "unit", unit);
    bk_json_put_bool(out, "at_least", rule->at_least);
    bk_branch_put_certainty(out, rule->certainty_pct, &rule->test);
    bk_json_put_text(out, "source", rule->row->id);
    bk_json_put_text(out, "standing", bk_standing_name(standing_of(rule)));
    return out;
}

static void note_rule(const bk_protect_rule *rule, const bk_risk_inputs *inputs, bk_answer *answer)
{
    char text[200];
    bk_answer_source(answer, rule->row->id);
    if (rule->without_sd != BK_RISK_INPUTS) {
        bk_format(text, sizeof text, "%s has no SD: how certainly the line is reached cannot be said",
                  bk_risk_input_paths[rule->without_sd]);
        char name[80];
        bk_format(name, sizeof name, "rules.%s.threshold_certainty_pct", rule->id);
        bk_answer_missing(answer, name, text);
    }
    if (rule->met != BK_UNKNOWN)
        return;
    bk_format(text, sizeof text, "would settle rule %s", rule->id);
    if (rule->test.relation != BK_IS && rule->test.quantity == BK_Q_SIDE_MASS)
        bk_answer_missing(answer, "rules.mass_10pct",
                          "needs anatomy.site, patient.height_cm, patient.weight_kg and patient.sex, and vessel_length_mm "
                          "or reference_mm of both daughters");
    else if (rule->test.relation == BK_IS)
        bk_branch_note_missing_fact(rule->test.fact, text, answer);
    else
        bk_branch_note_missing(inputs, bk_risk_quantity_inputs(rule->test.quantity), text, answer);
}

/* ---- comparisons ---- */

static void put_arm(bk_json *out, const char *key, const char *interval_key, const char *rate_row,
                    const char *lesions_row, bk_answer *answer)
{
    if (!rate_row) {
        bk_json_put_null(out, key);
        return;
    }
    const double pct = bk_evidence_value(bk_evidence_builtin(), rate_row);
    bk_json_put_fixed(out, key, pct, 1);
    bk_answer_source(answer, rate_row);
    if (!lesions_row)
        return;
    const double n = bk_evidence_value(bk_evidence_builtin(), lesions_row);
    bk_proportion interval = bk_wilson(round(n * pct / 100), n);
    interval.pct = pct;
    bk_json_put(out, interval_key, bk_branch_proportion(interval));
}

static bk_json *comparison_json(const bk_comparison *c, bk_tri stratum, bk_tri belongs, bk_answer *answer)
{
    const bk_evidence *row = bk_evidence_find(bk_evidence_builtin(), c->a_row ? c->a_row : c->odds_row);
    const bk_evidence *odds = c->odds_row ? bk_evidence_find(bk_evidence_builtin(), c->odds_row) : NULL;
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "id", c->id);
    bk_json_put_text(out, "arm_a", c->arm_a);
    put_arm(out, "pct_a", "interval_a", c->a_row, c->a_lesions_row, answer);
    bk_json_put_text(out, "arm_b", c->arm_b);
    put_arm(out, "pct_b", "interval_b", c->b_row, c->b_lesions_row, answer);
    if (odds) {
        bk_json *ratio = bk_json_object();
        bk_json_put_fixed(ratio, "value", odds->value, 2);
        bk_json_put_fixed(ratio, "low", odds->low, 2);
        bk_json_put_fixed(ratio, "high", odds->high, 2);
        bk_json_put_integer(ratio, "level_pct", BK_COUNT_LEVEL_PCT);
        bk_json_put(out, "odds_ratio", ratio);
        bk_answer_source(answer, odds->id);
    }
    bk_json_put_text(out, "stratum_met", c->rule_id ? bk_tri_name(stratum) : NULL);
    bk_json_put_text(out, "this_case_belongs", bk_tri_name(belongs));
    bk_json_put_text(out, "end_point", row->end_point);
    bk_json_put_text(out, "population", row->population);
    bk_json_put_text(out, "design", c->design);
    bk_json_put_text(out, "standing", bk_standing_name(row->standing));
    return out;
}

/* ---- how certain the whole is ---- */

static bk_json *place_axis(bk_proportion pct)
{
    if (isnan(pct.pct))
        return bk_json_new_null();
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "value", pct.pct, 1);
    bk_json_put_fixed(out, "low", pct.low_pct, 1);
    bk_json_put_fixed(out, "high", pct.high_pct, 1);
    bk_json_put_integer(out, "level_pct", BK_LEVEL_PCT);
    return out;
}

/* For the picture: this case, and the line of the published strata. */
static bk_json *place_json(const bk_risk_inputs *inputs)
{
    const bk_stenosis_place place = bk_protect_place(inputs);
    bk_json *out = bk_json_object();
    bk_json_put(out, "main_stenosis_pct", place_axis(place.main));
    bk_json_put_bool(out, "main_at_least", place.main_at_least);
    bk_json_put(out, "side_stenosis_pct", place_axis(place.side));
    bk_json_put_fixed(out, "line_pct",
                      bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("cobis3_stenosis_line")), 0);
    return out;
}

static void put_stability(const bk_asked *asked, const bk_protect *protect, bk_answer *answer)
{
    bk_json *over = bk_json_array();
    const int held = protect->decisive.held;
    bool left_out = false;
    for (size_t i = 0; i < BK_PROTECT_RULES; i++) {
        if (!isnan(protect->rules[i].certainty_pct))
            bk_json_push(over, bk_json_new_text(protect->rules[i].id));
        left_out = left_out || protect->rules[i].without_sd != BK_RISK_INPUTS;
    }
    bk_json_put_fixed(answer->json, "stability_pct", protect->stable_pct, 0);
    bk_json_put(answer->json, "stability_over", over);
    bk_json_put_text(answer->json, "decisive_input",
                     held == BK_HELD_NONE    ? NULL
                     : held == BK_HELD_SCALE ? "anatomy.calibration_sd_pct"
                                             : bk_risk_input_paths[held]);
    bk_json_put_fixed(answer->json, "stability_if_settled_pct", protect->decisive.stable_pct, 0);
    bk_json_put_integer(answer->json, "samples", asked->sampling.n);
    bk_json_put_integer(answer->json, "seed", (int64_t)asked->sampling.seed);
    if (isnan(protect->stable_pct))
        bk_answer_missing(answer, "stability_pct", "no rule that is met or not rests on numbers with an SD");
    if (left_out)
        bk_answer_caution(answer, "Some inputs have no SD: stability is over the rules in stability_over "
                                  "only, the others are left as they stand.");
}

void bk_answer_protect(const bk_asked *asked, bk_answer *answer)
{
    const bk_evidence_set *evidence = bk_evidence_builtin();
    const bk_risk_inputs inputs = bk_risk_inputs_of(asked->c, asked->facts, evidence);
    const bk_protect protect = bk_protect_rules(&inputs, asked->sampling, evidence);
    bk_json *rules = bk_json_array(), *comparisons = bk_json_array();
    unsigned bits = 0;
    for (size_t i = 0; i < BK_PROTECT_RULES; i++) {
        bk_json_push(rules, rule_json(&protect.rules[i]));
        note_rule(&protect.rules[i], &inputs, answer);
        bits |= protect.rules[i].test.relation == BK_IS
                    ? 0
                    : bk_risk_quantity_inputs(protect.rules[i].test.quantity);
    }
    bk_json_put(answer->json, "rules", rules);
    put_stability(asked, &protect, answer);
    for (const bk_comparison *c = bk_comparisons; c->id; c++)
        bk_json_push(comparisons,
                     comparison_json(c, bk_comparison_stratum(c, &protect),
                                     bk_comparison_belongs(c, &protect, &inputs, evidence), answer));
    bk_json_put(answer->json, "comparison", comparisons);
    bk_json_put(answer->json, "place", place_json(&inputs));
    bk_protect_put_exposed(asked, answer);
    bk_protect_put_harms(answer);
    bk_protect_put_stake(asked, answer);
    bk_branch_note_inputs(asked, bits, answer);
    if (!asked->c->anatomy.site)
        bk_answer_missing(answer, "anatomy.site", "not said; the registries compared left the left main out");
    bk_answer_source(answer, BK_EVIDENCE("wire_buys"));
    bk_answer_source(answer, BK_EVIDENCE("cobis3_failure"));
    bk_answer_source(answer, BK_EVIDENCE("wire_use_series"));
    bk_answer_source(answer, BK_EVIDENCE("jailed_balloon_modified"));
    bk_answer_source(answer, BK_EVIDENCE("jailed_balloon_compromise"));
    bk_answer_source(answer, BK_EVIDENCE("jailed_balloon_oct"));
    bk_answer_caution(answer, "Rules are laid out, not weighed: common practice has no source and decides "
                              "nothing alone; operators chose whom to wire in the registries.");
    bk_branch_cautions(asked, answer);
}
