/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/options.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#include "core/plan/options_catalogue.h"
#include "core/risk/models.h"

/* ---- conditions ---- */

static bk_tri complex_by_definition(const bk_risk_inputs *inputs, const bk_evidence_set *evidence)
{
    bk_risk_model models[BK_RISK_MODELS_MAX];
    const size_t n = bk_risk_models(inputs, (bk_sampling){1, 0}, evidence, models);
    for (size_t i = 0; i < n; i++)
        if (strcmp(models[i].id, "definition") == 0)
            return models[i].verdict;
    return BK_UNKNOWN;
}

static void fill_condition(const bk_condition_entry *from, const bk_risk_inputs *inputs, bk_tri complex,
                           const bk_evidence_set *evidence, bk_condition *out)
{
    bk_span spans[BK_RISK_INPUTS];
    bk_risk_spans(inputs, spans);
    *out = (bk_condition){.id = from->id, .row = bk_evidence_find(evidence, from->row), .complex = from->complex};
    assert(out->row);
    out->test.relation = from->relation;
    out->test.threshold = from->relation == BK_IS ? (double)NAN : out->row->value;
    if (from->relation == BK_IS)
        out->test.fact = (bk_risk_fact)from->what;
    else
        out->test.quantity = (bk_risk_quantity)from->what;
    out->met = from->complex ? complex : bk_test_met(&out->test, inputs, spans);
    out->value = bk_test_value(&out->test, spans, &out->at_least);
}

static bk_tri fits(const bk_option *option)
{
    bool all = option->n > 0, read = false;
    for (size_t i = 0; i < option->n; i++) {
        const bk_condition *c = &option->conditions[i];
        if (c->met == BK_NO && c->row->standing == BK_SEEN)
            return BK_NO;
        all = all && c->met == BK_YES;
        read = read || c->row->standing == BK_SEEN;
    }
    return all && read ? BK_YES : BK_UNKNOWN;
}

/* ---- what it needs ---- */

/* What a run through the steps has used so far. */
typedef struct used {
    bk_kit kit;
    unsigned uses; /* bits of sized devices */
    int wires;     /* in the vessel now; the kit keeps the most at one time */
} used;

static int wires_laid(bk_step_id id)
{
    if (id == BK_STEP_WIRE_MAIN || id == BK_STEP_WIRE_SIDE || id == BK_STEP_RECROSS)
        return 1;
    return id == BK_STEP_CLEAR_SIDE || id == BK_STEP_WITHDRAW_JAILED_WIRE ? -1 : 0;
}

static void count_step(const bk_step *step, used *u)
{
    bk_kit *kit = &u->kit;
    kit->steps++;
    kit->recrossings += step->id == BK_STEP_RECROSS || step->id == BK_STEP_RECROSS_MAIN;
    u->wires += wires_laid(step->id);
    kit->wires = u->wires > kit->wires ? u->wires : kit->wires;
    kit->stents += step->id == BK_STEP_STENT_MAIN || step->id == BK_STEP_STENT_SIDE ||
                   step->id == BK_STEP_STENT_SIDE_FIRST || step->id == BK_STEP_STENT_LIMB;
    kit->balloons += step->id == BK_STEP_LAY_SIDE_BALLOON || step->id == BK_STEP_DRUG_BALLOON;
    kit->balloons += step->id == BK_STEP_KISSING_PREDILATE ? 2 : 0;
    for (int k = 0; k < 2; k++) {
        const bk_use use = step->uses[k];
        if (use == BK_USES || use == BK_USE_MAIN_STENT || use == BK_USE_SIDE_STENT || (u->uses >> use & 1))
            continue;
        u->uses |= 1u << use;
        kit->balloons++;
    }
}

static void fill_kit(bk_option *option)
{
    bk_step steps[BK_STEPS_MAX];
    const char *row;
    used all = {0}, always = {0};
    const size_t n = bk_steps_plan(option->strategy, BK_LEAVES_LAST, steps, &row);
    option->steps_known = n > 0;
    for (size_t i = 0; i < n; i++) {
        count_step(&steps[i], &all);
        if (!steps[i].if_needed)
            count_step(&steps[i], &always);
    }
    option->all = all.kit;
    option->always = always.kit;
}

/* ---- all of them, in order ---- */

static void fill(enum bk_strategy strategy, const bk_risk_inputs *inputs, bk_tri complex,
                 const bk_evidence_set *evidence, bk_option *out)
{
    const bk_option_entry *from = &bk_option_catalogue[strategy];
    *out = (bk_option){.strategy = strategy, .name = from->name, .guide = bk_evidence_find(evidence, from->guide_row)};
    for (; from->conditions[out->n].id; out->n++)
        fill_condition(&from->conditions[out->n], inputs, complex, evidence, &out->conditions[out->n]);
    memcpy(out->for_rows, from->for_rows, sizeof out->for_rows);
    memcpy(out->against_rows, from->against_rows, sizeof out->against_rows);
    out->fits = fits(out);
    fill_kit(out);
}

static int rank(const bk_option *option)
{
    int met = 0;
    for (size_t i = 0; i < option->n; i++)
        met += option->conditions[i].met == BK_YES ? 1 : option->conditions[i].met == BK_NO ? -1 : 0;
    return 100 * (option->fits == BK_YES ? 2 : option->fits == BK_UNKNOWN ? 1 : 0) + met;
}

void bk_options_of(const bk_risk_inputs *inputs, bk_sampling sampling, const bk_evidence_set *evidence,
                   bk_option out[BK_OPTIONS])
{
    const bk_tri complex = complex_by_definition(inputs, evidence);
    for (int s = 1; s < BK_STRATEGIES; s++) {
        bk_option option;
        int at = s - 1;
        fill((enum bk_strategy)s, inputs, complex, evidence, &option);
        for (; at > 0 && rank(&out[at - 1]) < rank(&option); at--)
            out[at] = out[at - 1];
        out[at] = option;
    }
    for (int i = 0; i < BK_OPTIONS; i++) {
        bk_test tests[BK_CONDITIONS_MAX];
        double certainty[BK_CONDITIONS_MAX];
        for (size_t k = 0; k < out[i].n; k++)
            tests[k] = out[i].conditions[k].test;
        (void)bk_tests_certainty(tests, out[i].n, inputs, sampling, certainty);
        for (size_t k = 0; k < out[i].n; k++)
            out[i].conditions[k].certainty_pct = certainty[k];
    }
}

enum bk_strategy bk_options_in_view(const bk_case *c, const bk_facts *facts, const bk_evidence_set *evidence)
{
    bk_option options[BK_OPTIONS];
    if (c->decision.strategy != BK_STRATEGY_NOT_SAID)
        return (enum bk_strategy)c->decision.strategy;
    const bk_risk_inputs inputs = bk_risk_inputs_of(c, facts, evidence);
    bk_options_of(&inputs, (bk_sampling){1, 0}, evidence, options);
    int at = 0;
    while (at < BK_OPTIONS - 1 && !bk_strategy_find((int)options[at].strategy).sized)
        at++;
    const enum bk_strategy first = options[at].strategy;
    if (c->decision.wire_side == BK_YES && first == BK_PROVISIONAL)
        return BK_PROVISIONAL_WIRE;
    return c->decision.wire_side == BK_NO && first == BK_PROVISIONAL_WIRE ? BK_PROVISIONAL : first;
}
