/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/risk/protect.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#include "core/num.h"

typedef struct rule_entry {
    const char *id, *row;
    bk_relation relation;
    int what; /* bk_risk_quantity, or bk_risk_fact for BK_IS */
} rule_entry;

static const rule_entry entries[BK_PROTECT_RULES] = {
    {"side_ref_2mm", BK_EVIDENCE("relevant_side_reference"), BK_AT_LEAST, BK_Q_SIDE_REFERENCE},
    {"tight_both_60", BK_EVIDENCE("practice_both_60"), BK_AT_LEAST, BK_Q_BOTH_STENOSES},
    {"side_60", BK_EVIDENCE("cobis3_stenosis_line"), BK_AT_LEAST, BK_Q_SIDE_STENOSIS},
    {"main_60", BK_EVIDENCE("cobis3_stenosis_line"), BK_AT_LEAST, BK_Q_MAIN_STENOSIS},
    {"main_length_10mm", BK_EVIDENCE("practice_main_length"), BK_ABOVE, BK_Q_MAIN_LESION},
    {"plaque_shift", BK_EVIDENCE("practice_plaque_shift"), BK_IS, BK_FACT_PLAQUE_MAY_SHIFT},
    {"length_73mm", BK_EVIDENCE("stake_length"), BK_AT_LEAST, BK_Q_SIDE_VESSEL},
    {"mass_10pct", BK_EVIDENCE("territory_ten"), BK_AT_LEAST, BK_Q_SIDE_MASS},
};

bk_protect bk_protect_rules(const bk_risk_inputs *inputs, bk_sampling sampling,
                            const bk_evidence_set *evidence)
{
    bk_protect out;
    bk_test tests[BK_PROTECT_RULES];
    double certainty[BK_PROTECT_RULES];
    bk_span spans[BK_RISK_INPUTS];
    bk_risk_spans(inputs, spans);
    for (size_t i = 0; i < BK_PROTECT_RULES; i++) {
        const rule_entry *entry = &entries[i];
        bk_protect_rule *rule = &out.rules[i];
        *rule = (bk_protect_rule){.id = entry->id, .row = bk_evidence_find(evidence, entry->row)};
        assert(rule->row);
        rule->line = rule->row->value;
        rule->test.relation = entry->relation;
        rule->test.threshold = rule->line;
        if (entry->relation == BK_IS)
            rule->test.fact = (bk_risk_fact)entry->what;
        else
            rule->test.quantity = (bk_risk_quantity)entry->what;
        rule->met = bk_test_met(&rule->test, inputs, spans);
        rule->value = bk_test_value(&rule->test, spans, &rule->at_least);
        bk_test_has_certainty(&rule->test, inputs, &rule->without_sd);
        tests[i] = rule->test;
    }
    out.stable_pct = bk_tests_certainty(tests, BK_PROTECT_RULES, inputs, sampling, certainty);
    out.decisive = bk_tests_decisive(tests, BK_PROTECT_RULES, inputs, sampling);
    for (size_t i = 0; i < BK_PROTECT_RULES; i++)
        out.rules[i].certainty_pct = certainty[i];
    return out;
}

static bk_proportion place_of(const bk_risk_inputs *inputs, bk_risk_input input)
{
    const bk_qty q = inputs->fact[input].q;
    if (!bk_has(q))
        return (bk_proportion){(double)NAN, (double)NAN, (double)NAN};
    const double half = bk_normal_quantile(0.5 + BK_LEVEL_PCT / 200.0) * bk_risk_input_sd(q);
    return (bk_proportion){q.value, isnan(half) ? half : fmax(0, q.value - half),
                           isnan(half) ? half : fmin(100, q.value + half)};
}

bk_stenosis_place bk_protect_place(const bk_risk_inputs *inputs)
{
    bk_stenosis_place out = {.side = place_of(inputs, BK_IN_SIDE_STENOSIS)};
    out.main = place_of(inputs, BK_IN_PROXIMAL_STENOSIS);
    for (int i = BK_IN_PROXIMAL_STENOSIS; i <= BK_IN_CORE_STENOSIS; i++) {
        const bk_proportion place = place_of(inputs, (bk_risk_input)i);
        out.main_at_least = out.main_at_least || isnan(place.pct);
        if (isnan(out.main.pct) || place.pct > out.main.pct)
            out.main = place;
    }
    return out;
}

#define ARMS(a, b) BK_EVIDENCE(a), BK_EVIDENCE(b)
#define NO_COUNTS NULL, NULL
#define REGISTRY "retrospective registry"

const bk_comparison bk_comparisons[] = {
    {"cobis3_side_60", "wire in the side branch", "no wire", REGISTRY,
     ARMS("cobis3_side_60_wired", "cobis3_side_60_unwired"), NO_COUNTS, BK_EVIDENCE("cobis3_side_60_odds"),
     "side_60", true, false},
    {"cobis3_main_60", "wire in the side branch", "no wire", REGISTRY,
     ARMS("cobis3_main_60_wired", "cobis3_main_60_unwired"), NO_COUNTS, BK_EVIDENCE("cobis3_main_60_odds"),
     "main_60", true, false},
    {"cobis3_all", "wire in the side branch", "no wire", REGISTRY,
     ARMS("cobis3_all_wired", "cobis3_all_unwired"), NO_COUNTS, NULL, NULL, true, false},
    {"practice_60_60", "wire in the side branch", "no wire", "common practice, no source",
     ARMS("practice_60_60_wired", "practice_60_60_unwired"), NO_COUNTS, NULL, "tight_both_60", false, false},
    {"cabriolet", "wire in the side branch", "no wire",
     "registry; confounded, the harder branches were wired", ARMS("cabriolet_wired", "cabriolet_unwired"),
     NO_COUNTS, NULL, NULL, false, false},
    {"cabriolet_policy", "operators who wire", "operators who do not", "registry, by the operator's policy",
     ARMS("cabriolet_policy_wire", "cabriolet_policy_none"), NO_COUNTS, NULL, NULL, false, false},
    {"jailed_balloon_loss", "jailed balloon", "jailed wire", "subgroup of a randomised trial",
     ARMS("jailed_balloon_lost", "jailed_wire_lost"), ARMS("jailed_balloon_n", "jailed_wire_n"), NULL, NULL,
     false, true},
    {"jailed_balloon_infarction", "jailed balloon", "jailed wire", "subgroup of a randomised trial",
     ARMS("jailed_balloon_mi", "jailed_wire_mi"), ARMS("jailed_balloon_n", "jailed_wire_n"), NULL, NULL,
     false, true},
    {"jailed_balloon_year", "jailed balloon", "jailed wire", "subgroup of a randomised trial",
     ARMS("jailed_balloon_year", "jailed_wire_year"), ARMS("jailed_balloon_n", "jailed_wire_n"), NULL, NULL,
     false, true},
    {"jailed_balloon_dissent", "jailed balloon or microcatheter", "jailed wire", "observational, weighted",
     NULL, NULL, NO_COUNTS, BK_EVIDENCE("jailed_balloon_dissent"), NULL, false, false},
    {"jailed_balloon_small_trial", "modified jailed balloon", "usual care", "small trial, single centre",
     ARMS("jailed_balloon_small_trial", "jailed_balloon_small_trial_usual"), NO_COUNTS, NULL, NULL, false,
     false},
    {"active_protection", "two stents or jailed balloon", "provisional or jailed wire", "randomised trial",
     ARMS("cit_resolve_active", "cit_resolve_usual"), NO_COUNTS, NULL, NULL, false, false},
    {"kissing_predilatation", "kissing predilatation", "none", "observational, matched",
     ARMS("kissing_predilatation_trouble", "kissing_predilatation_usual"), NO_COUNTS, NULL, NULL, false,
     false},
    {0},
};

bk_tri bk_comparison_stratum(const bk_comparison *comparison, const bk_protect *protect)
{
    for (size_t i = 0; comparison->rule_id && i < BK_PROTECT_RULES; i++)
        if (strcmp(protect->rules[i].id, comparison->rule_id) == 0)
            return protect->rules[i].met;
    return BK_UNKNOWN;
}

bk_tri bk_comparison_belongs(const bk_comparison *comparison, const bk_protect *protect,
                             const bk_risk_inputs *inputs, const bk_evidence_set *evidence)
{
    bk_span spans[BK_RISK_INPUTS];
    bk_risk_spans(inputs, spans);
    const bk_span side = spans[BK_IN_SIDE_REFERENCE];
    if (comparison->not_left_main && inputs->site == BK_LEFT_MAIN)
        return BK_NO;
    if (comparison->small_side && (side.high < bk_evidence_value(evidence, BK_EVIDENCE("jailed_small_low")) ||
                                   side.low >= bk_evidence_value(evidence, BK_EVIDENCE("jailed_small_high"))))
        return BK_NO;
    const bk_tri high = inputs->known[BK_FACT_RESOLVE_HIGH];
    if (comparison->small_side && (high == BK_NO || (high == BK_YES && side.low >= side.high)))
        return high; // the size was settled above
    const bk_tri stratum = bk_comparison_stratum(comparison, protect);
    if (comparison->rule_id && stratum != BK_YES)
        return stratum;
    if (comparison->not_left_main)
        return inputs->site == BK_SITE_NOT_SAID ? BK_UNKNOWN : BK_YES;
    return comparison->rule_id ? BK_YES : BK_UNKNOWN;
}
