/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `ask risk`: the published models of core/risk put into words, each on its own. */
#include <math.h>

#include "app/ask_branch.h"
#include "base/format.h"
#include "core/risk/models.h"

/* The id of a factor that no input of the case says, as words. */
static void readable(char text[160], const char *id)
{
    bk_format(text, 160, "%s", id);
    for (char *c = text; *c; c++)
        *c = *c == '_' ? ' ' : *c;
}

static bk_json *factor_json(const bk_factor *factor)
{
    const bk_evidence *odds =
        factor->odds_row ? bk_evidence_find(bk_evidence_builtin(), factor->odds_row) : NULL;
    const char *unit = bk_branch_unit(&factor->test);
    char text[160];
    bk_json *out = bk_json_object();
    if (factor->per_unit)
        bk_format(text, sizeof text, "%s, for each %s", bk_risk_quantity_words[factor->test.quantity], unit);
    else
        bk_branch_rule_text(text, sizeof text, &factor->test, "");
    if (!text[0])
        readable(text, factor->id);
    bk_json_put_text(out, "id", factor->id);
    bk_json_put_text(out, "text", text);
    bk_json_put_text(out, "present", bk_tri_name(factor->present));
    bk_branch_put_amount(out, "value", factor->value, unit);
    bk_branch_put_amount(out, "threshold", factor->line_row ? factor->test.threshold : (double)NAN, unit);
    bk_json_put_text(out, "unit", unit);
    bk_json_put_bool(out, "at_least", factor->at_least);
    bk_branch_put_certainty(out, factor->certainty_pct, &factor->test);
    if (odds) {
        bk_json *ratio = bk_json_object();
        bk_json_put_fixed(ratio, "value", odds->value, 3);
        bk_json_put_fixed(ratio, "low", odds->low, 3);
        bk_json_put_fixed(ratio, "high", odds->high, 3);
        bk_json_put(ratio, "level_pct",
                    isnan(odds->low) ? bk_json_new_null() : bk_json_new_integer(BK_COUNT_LEVEL_PCT));
        bk_json_put(out, factor->per_unit ? "odds_ratio_per_mm" : "odds_ratio", ratio);
    }
    return out;
}

static void put_rates(bk_json *out, const bk_risk_model *model)
{
    bk_json_put(out, "unprotected_pct",
                model->stratum && model->stratum_unwired ? bk_branch_proportion(model->stratum_pct)
                                                         : bk_json_new_null());
    bk_json_put(out, "stratum_pct",
                model->stratum && !model->stratum_unwired ? bk_branch_proportion(model->stratum_pct)
                                                          : bk_json_new_null());
    bk_json_put_text(out, "stratum", model->stratum ? model->stratum->name : NULL);
    bk_json_put(out, "whole_population_pct", bk_branch_proportion(model->whole_pct));
}

static void put_odds(bk_json *out, const bk_risk_model *model)
{
    bk_json_put_fixed(out, "relative_odds", model->relative_odds, 2);
    if (isnan(model->odds_low)) {
        bk_json_put_null(out, "relative_odds_between");
        return;
    }
    bk_json *between = bk_json_object();
    bk_json_put_fixed(between, "low", model->odds_low, 2);
    bk_json_put_fixed(between, "high", model->odds_high, 2); // null: no upper end
    bk_json_put(out, "relative_odds_between", between);
    bk_json_put_bool(out, "relative_odds_at_least", model->odds_at_least);
}

static bk_json *model_json(const bk_risk_model *model)
{
    bk_json *out = bk_json_object(), *factors = bk_json_array();
    bk_json_put_text(out, "id", model->id);
    bk_json_put_text(out, "name", model->head->name);
    bk_json_put_text(out, "text", model->head->text);
    bk_json_put_text(out, "end_point", model->head->end_point);
    bk_json_put_text(out, "population", model->head->population);
    bk_json_put_bool(out, "applies", model->applies);
    bk_json_put_text(out, "why_not", model->applies ? NULL : model->why_not);
    put_rates(out, model);
    put_odds(out, model);
    if (model->has_verdict)
        bk_json_put_text(out, "complex", bk_tri_name(model->verdict));
    if (!isnan(model->predicted_stenosis_pct))
        bk_json_put_fixed(out, "predicted_stenosis_pct", model->predicted_stenosis_pct, 0);
    for (size_t i = 0; i < model->n; i++)
        bk_json_push(factors, factor_json(&model->factors[i]));
    bk_json_put(out, "factors", factors);
    bk_json_put_text(out, "standing", bk_standing_name(model->head->standing));
    return out;
}

/* Sources that contradict each other stand side by side. */
static bk_json *conflicts_json(bk_answer *answer)
{
    static const struct {
        const char *about;
        const char *rows[6];
    } conflicts[] = {
        {"angle: some sources find narrow, some wide angles worse, on different angles and end points",
         {BK_EVIDENCE("progress_angle_below_45"), BK_EVIDENCE("carina_angle_line"),
          BK_EVIDENCE("vassilev_angle_line"), BK_EVIDENCE("resolve_angle_line"),
          BK_EVIDENCE("angle_wide_series")}},
        {"plaque side", {BK_EVIDENCE("plaque_same_side"), BK_EVIDENCE("plaque_opposite")}},
    };
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < sizeof conflicts / sizeof conflicts[0]; i++) {
        bk_json *entry = bk_json_object(), *says = bk_json_array();
        bk_json_put_text(entry, "about", conflicts[i].about);
        for (size_t k = 0; k < 6 && conflicts[i].rows[k]; k++) {
            const bk_evidence *row = bk_evidence_find(bk_evidence_builtin(), conflicts[i].rows[k]);
            bk_json *said = bk_json_object();
            bk_json_put_text(said, "text", row->text);
            bk_json_put_text(said, "source", row->id);
            bk_json_put_text(said, "standing", bk_standing_name(row->standing));
            bk_json_push(says, said);
            bk_answer_source(answer, row->id);
        }
        bk_json_put(entry, "says", says);
        bk_json_push(list, entry);
    }
    return list;
}

static void note_model(const bk_risk_model *model, const bk_risk_inputs *inputs, bk_answer *answer)
{
    char needed_by[120];
    bk_answer_source(answer, model->head->id);
    if (model->stratum)
        bk_answer_source(answer, model->stratum->id);
    for (size_t i = 0; i < model->n; i++) {
        const bk_factor *factor = &model->factors[i];
        if (factor->line_row)
            bk_answer_source(answer, factor->line_row);
        if (factor->odds_row)
            bk_answer_source(answer, factor->odds_row);
        if (!model->applies || (factor->present != BK_UNKNOWN && !(factor->per_unit && factor->at_least)))
            continue;
        bk_format(needed_by, sizeof needed_by, "would settle factor %s of model %s", factor->id, model->id);
        if (factor->test.relation == BK_IS)
            bk_branch_note_missing_fact(factor->test.fact, needed_by, answer);
        else
            bk_branch_note_missing(inputs, bk_risk_quantity_inputs(factor->test.quantity), needed_by, answer);
    }
}

/* Rows that no factor or rate rests on, but that say how to read them. */
static void note_background(bk_answer *answer)
{
    static const char *const rows[] = {
        BK_EVIDENCE("cobis2_no_intercept"), BK_EVIDENCE("resolve_points"),
        BK_EVIDENCE("resolve_factors"),     BK_EVIDENCE("resolve_discrimination"),
        BK_EVIDENCE("v_resolve_low"),       BK_EVIDENCE("v_resolve_discrimination"),
        BK_EVIDENCE("v_resolve_agreement"), BK_EVIDENCE("resolve_ct_high"),
        BK_EVIDENCE("resolve_ct_low"),      BK_EVIDENCE("progress_lost"),
        BK_EVIDENCE("progress_angle_odds"), BK_EVIDENCE("loss_two_definitions"),
        BK_EVIDENCE("consensus_range"),     BK_EVIDENCE("left_main_discrimination"),
        BK_EVIDENCE("carina_shift_ivus"),   BK_EVIDENCE("carina_and_plaque"),
        BK_EVIDENCE("calcium_plaque_type"), BK_EVIDENCE("jailing_predictors"),
        BK_EVIDENCE("fd_oct_carina_tip"),   BK_EVIDENCE("fd_oct_length"),
        BK_EVIDENCE("old_stents_ostial"),   BK_EVIDENCE("scope_of_models"),
        BK_EVIDENCE("angle_which"),         BK_EVIDENCE("angle_names"),
        BK_EVIDENCE("resolve_limits"),      BK_EVIDENCE("resolve_group_account"),
        BK_EVIDENCE("size_floors"),         BK_EVIDENCE("ostium_oval"),
        BK_EVIDENCE("bif_arc_imaging"),     BK_EVIDENCE("bif_arc_ct"),
        BK_EVIDENCE("definition_minor_list")};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        bk_answer_source(answer, rows[i]);
}

/* Only from a point table that a person has entered. */
static void put_score(const bk_risk_inputs *inputs, bk_answer *answer)
{
    if (!inputs->resolve_entered) {
        bk_json_put_null(answer->json, "resolve_points");
        bk_answer_missing(answer, "models resolve, v_resolve: points",
                          "the point tables about conflict and none is from the primary paper: no score until a "
                          "person enters it");
        return;
    }
    bk_json *points = bk_json_object();
    const bool point = inputs->resolve_low >= inputs->resolve_high;
    bk_json_put_fixed(points, "value", point ? inputs->resolve_low : (double)NAN, 0);
    bk_json_put_fixed(points, "at_least", inputs->resolve_low, 0);
    bk_json_put_fixed(points, "at_most", inputs->resolve_high, 0);
    bk_json_put_text(points, "high_risk", bk_tri_name(inputs->known[BK_FACT_RESOLVE_HIGH]));
    bk_json_put(answer->json, "resolve_points", points);
    bk_answer_source(answer, BK_EVIDENCE("v_resolve_line"));
    bk_answer_caution(answer, "The RESOLVE points come from a table entered here, not from this program.");
}

void bk_answer_risk(const bk_asked *asked, bk_answer *answer)
{
    bk_risk_model models[BK_RISK_MODELS_MAX];
    const bk_evidence_set *evidence = bk_evidence_builtin();
    const bk_risk_inputs inputs = bk_risk_inputs_of(asked->c, asked->facts, evidence);
    const size_t n = bk_risk_models(&inputs, asked->sampling, evidence, models);
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < n; i++) {
        bk_json_push(list, model_json(&models[i]));
        note_model(&models[i], &inputs, answer);
    }
    bk_json_put(answer->json, "models", list);
    bk_json_put(answer->json, "conflicts", conflicts_json(answer));
    bk_branch_note_inputs(asked, ~0u, answer);
    put_score(&inputs, answer);
    bk_answer_missing(answer, "models cobis2: a percentage",
                      "no intercept was published: relative odds only");
    bk_answer_caution(answer, "Models differ in end point and population: never add or average them; no "
                              "percentage here is this patient's.");
    bk_answer_caution(
        answer,
        "Where it is not said whether branches were wired, the rate was published for whatever was done.");
    note_background(answer);
    bk_branch_cautions(asked, answer);
}
