/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/risk/models.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#include "core/risk/catalogue.h"
#include "core/risk/complexity.h"

/* What all models see alike. */
typedef struct setting {
    const bk_risk_inputs *inputs;
    const bk_evidence_set *evidence;
    bk_sampling sampling;
    bk_span spans[BK_RISK_INPUTS];
} setting;

const bk_factor *bk_risk_factor(const bk_risk_model *model, const char *id)
{
    for (size_t i = 0; i < model->n; i++)
        if (strcmp(model->factors[i].id, id) == 0)
            return &model->factors[i];
    return NULL;
}

/* ---- was it made for such a case? ---- */

static const char *outside_all(const bk_risk_inputs *in)
{
    if (in->trifurcation == BK_YES)
        return "a trifurcation";
    if (in->context == BK_IN_STENT)
        return "an in-stent lesion";
    if (in->context == BK_CTO)
        return "a chronic total occlusion";
    if (in->context == BK_GRAFT_ANASTOMOSIS)
        return "a graft anastomosis";
    if (in->presentation == BK_SHOCK || in->presentation == BK_ARREST)
        return "shock or arrest";
    return NULL;
}

static const char *outside(const bk_model_entry *entry, const bk_risk_inputs *in, const setting *s)
{
    const char *why = outside_all(in);
    if (why)
        return why;
    if (entry->sites == BK_NOT_LEFT_MAIN && in->site == BK_LEFT_MAIN)
        return "the left main; the model is not for it";
    if (entry->sites == BK_ONLY_LEFT_MAIN && in->site != BK_LEFT_MAIN)
        return in->site == BK_SITE_NOT_SAID ? "the site was not said; the model is for the left main only"
                                            : "not the left main";
    if (entry->sites == BK_ONLY_LAD && in->site != BK_LAD_DIAGONAL)
        return in->site == BK_SITE_NOT_SAID ? "the site was not said; the model is for the LAD only"
                                            : "not the LAD";
    if (entry->only_stemi && in->known[BK_FACT_STEMI] != BK_YES)
        return "made for primary intervention in ST-elevation infarction";
    if (!entry->verdict && in->strategy == BK_DK_CRUSH)
        return "the side branch is stented first; the model is for one stent or the main vessel first";
    if (!entry->verdict && in->side_occluded == BK_YES)
        return "the side branch is occluded already";
    const bk_span side = bk_risk_quantity_of(BK_Q_SIDE_REFERENCE, s->spans);
    if (entry->side_floor_row && side.high < bk_evidence_value(s->evidence, entry->side_floor_row))
        return "a side branch smaller than any in the model";
    return NULL;
}

/* ---- factors ---- */

static void fill_factors(const bk_model_entry *entry, const setting *s, bk_risk_model *out)
{
    bk_test tests[BK_FACTORS_MAX];
    double certainty[BK_FACTORS_MAX];
    for (out->n = 0; out->n < BK_FACTORS_MAX && entry->factors[out->n].id; out->n++) {
        const bk_factor_entry *from = &entry->factors[out->n];
        bk_factor *factor = &out->factors[out->n];
        *factor = (bk_factor){.id = from->id,
                              .line_row = from->line_row,
                              .odds_row = from->odds_row,
                              .per_unit = from->per_unit};
        factor->test.relation = from->relation;
        if (from->relation == BK_IS)
            factor->test.fact = (bk_risk_fact)from->what;
        else
            factor->test.quantity = (bk_risk_quantity)from->what;
        factor->test.threshold = from->line_row   ? bk_evidence_value(s->evidence, from->line_row)
                                 : from->per_unit ? 0
                                                  : (double)NAN;
        factor->present = bk_test_met(&factor->test, s->inputs, s->spans);
        factor->value = bk_test_value(&factor->test, s->spans, &factor->at_least);
        tests[out->n] = factor->test;
    }
    if (out->n > 0)
        (void)bk_tests_certainty(tests, out->n, s->inputs, s->sampling, certainty);
    for (size_t i = 0; i < out->n; i++)
        out->factors[i].certainty_pct = out->factors[i].per_unit ? (double)NAN : certainty[i];
}

/* ---- relative odds ---- */

/* A factor's share in the odds: at least and at most. */
static bk_span share_of(const bk_factor *factor, const setting *s)
{
    if (!factor->odds_row)
        return factor->present == BK_UNKNOWN ? (bk_span){1, (double)INFINITY} : (bk_span){1, 1};
    const double odds = bk_evidence_value(s->evidence, factor->odds_row);
    if (factor->per_unit) {
        const bk_span q = bk_risk_quantity_of(factor->test.quantity, s->spans);
        return (bk_span){pow(odds, q.low), pow(odds, q.high)};
    }
    return (bk_span){factor->present == BK_YES ? odds : 1, factor->present == BK_NO ? 1 : odds};
}

static void fill_odds(const setting *s, bk_risk_model *out)
{
    bool published = false, unknown = false;
    out->relative_odds = out->odds_low = out->odds_high = (double)NAN;
    double low = 1, high = 1;
    for (size_t i = 0; i < out->n; i++) {
        const bk_factor *factor = &out->factors[i];
        const bk_span share = share_of(factor, s);
        published = published || factor->odds_row;
        low *= share.low;
        high *= share.high;
        if (factor->per_unit && factor->at_least)
            out->odds_at_least = true; // counts with the length that was seen
        else
            unknown = unknown || share.low < share.high;
    }
    if (!published)
        return;
    out->odds_low = low;
    out->odds_high = high;
    out->relative_odds = unknown ? (double)NAN : low;
}

/* ---- what was published for it ---- */

static bool falls_under(const bk_stratum_entry *stratum, const bk_risk_model *model)
{
    for (unsigned i = 0; i <= BK_VERDICT_BIT; i++) {
        const bk_tri is = i == BK_VERDICT_BIT ? model->verdict
                          : i < model->n      ? model->factors[i].present
                                              : BK_UNKNOWN;
        if (((stratum->yes >> i & 1) && is != BK_YES) || ((stratum->no >> i & 1) && is != BK_NO))
            return false;
    }
    return true;
}

static void fill_rates(const bk_model_entry *entry, const setting *s, bk_risk_model *out)
{
    out->stratum_pct = out->whole_pct = (bk_proportion){(double)NAN, (double)NAN, (double)NAN};
    for (const bk_stratum_entry *stratum = entry->strata; stratum->rate_row && !out->stratum; stratum++) {
        if (!falls_under(stratum, out))
            continue;
        const double pct = bk_evidence_value(s->evidence, stratum->rate_row);
        out->stratum = bk_evidence_find(s->evidence, stratum->rate_row);
        out->stratum_unwired = stratum->unwired;
        out->stratum_pct.pct = pct;
        if (stratum->lesions_row) {
            const double n = bk_evidence_value(s->evidence, stratum->lesions_row);
            out->stratum_pct = bk_wilson(round(n * pct / 100), n);
            out->stratum_pct.pct = pct; // as printed
        }
    }
    if (!entry->events_row)
        return;
    out->whole_events = bk_evidence_find(s->evidence, entry->events_row);
    out->whole_lesions = bk_evidence_find(s->evidence, entry->lesions_row);
    out->whole_pct = bk_wilson(bk_evidence_value(s->evidence, entry->events_row),
                               bk_evidence_value(s->evidence, entry->lesions_row));
}

static void fill_verdict(const bk_model_entry *entry, const setting *s, bk_risk_model *out)
{
    out->has_verdict = entry->verdict != BK_NO_VERDICT;
    if (entry->verdict == BK_VERDICT_DEFINITION)
        out->verdict = bk_definition_complex(
            out, s->inputs->site,
            (int)bk_evidence_value(s->evidence, BK_EVIDENCE("definition_minor_needed")));
    else if (entry->verdict == BK_VERDICT_BIF_ARC)
        out->verdict = bk_bif_arc_complex(out);
}

static double predicted(const bk_risk_model *model, const setting *s)
{
    if (model->n != 1 || model->factors[0].test.relation == BK_IS ||
        model->factors[0].test.quantity != BK_Q_COSINE_STENOSIS)
        return (double)NAN;
    const bk_span span = bk_risk_quantity_of(BK_Q_COSINE_STENOSIS, s->spans);
    return span.low >= span.high ? span.low : (double)NAN;
}

size_t bk_risk_models(const bk_risk_inputs *inputs, bk_sampling sampling, const bk_evidence_set *evidence,
                      bk_risk_model out[BK_RISK_MODELS_MAX])
{
    setting s = {.inputs = inputs, .evidence = evidence, .sampling = sampling};
    assert(bk_model_catalogue_n <= BK_RISK_MODELS_MAX);
    bk_risk_spans(inputs, s.spans);
    for (size_t i = 0; i < bk_model_catalogue_n; i++) {
        const bk_model_entry *entry = &bk_model_catalogue[i];
        bk_risk_model *model = &out[i];
        *model = (bk_risk_model){.id = entry->id, .head = bk_evidence_find(evidence, entry->head_row)};
        assert(model->head);
        fill_factors(entry, &s, model);
        fill_verdict(entry, &s, model);
        fill_odds(&s, model);
        fill_rates(entry, &s, model);
        model->predicted_stenosis_pct = predicted(model, &s);
        const char *why = outside(entry, inputs, &s);
        if (!why && entry->verdict == BK_VERDICT_DEFINITION && model->factors[0].present == BK_NO)
            why = "not a true bifurcation";
        model->applies = !why;
        model->why_not = why ? why : "";
    }
    return bk_model_catalogue_n;
}
