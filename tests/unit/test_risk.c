/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <string.h>

#include "core/risk/models.h"
#include "core/risk/protect.h"

static const bk_sampling few = {200, 1};

/* A case with nothing said. */
static bk_risk_inputs nothing(void)
{
    bk_risk_inputs in = {.scale_sd_pct = (double)NAN, .trifurcation = BK_NO};
    for (int i = 0; i < BK_RISK_INPUTS; i++)
        in.fact[i] = (bk_fact){bk_qty_absent(), BK_FROM_NOWHERE};
    return in;
}

static void put(bk_risk_inputs *in, bk_risk_input input, double value, double sd, bk_origin origin)
{
    in->fact[input] = (bk_fact){bk_qty_of(value, sd, origin), BK_FROM_ANATOMY};
}
static void exact(bk_risk_inputs *in, bk_risk_input input, double value)
{
    put(in, input, value, (double)NAN, BK_ENTERED);
}

static bk_risk_model model(const bk_risk_inputs *in, const char *id)
{
    bk_risk_model all[BK_RISK_MODELS_MAX];
    const size_t n = bk_risk_models(in, few, bk_evidence_builtin(), all);
    for (size_t i = 0; i < n; i++)
        if (strcmp(all[i].id, id) == 0)
            return all[i];
    fail_msg("no model %s", id);
    return all[0];
}

static bk_protect_rule rule(const bk_protect *protect, const char *id)
{
    for (size_t i = 0; i < BK_PROTECT_RULES; i++)
        if (strcmp(protect->rules[i].id, id) == 0)
            return protect->rules[i];
    fail_msg("no rule %s", id);
    return protect->rules[0];
}

/* ---- counts ---- */

static void test_proportion__wilson_as_scipy(void **state)
{
    (void)state;
    /* scipy 1.10, stats.binomtest(k, n).proportion_ci(0.95, "wilson") */
    static const struct {
        double events, n, low_pct, high_pct;
    } want[] = {{118, 1601, 6.190011213819206, 8.754858106602006},  {187, 2227, 7.315480229437537, 9.621691945067198},
                {19, 855, 1.4271903325266062, 3.444658643901259},   {23, 102, 15.521692835323755, 31.568983517815397},
                {0, 135, 0, 2.766795201752491},                     {13, 13, 77.19046276458018, 100},
                {13, 143, 5.389777523392977, 14.932452356611877}};
    for (size_t i = 0; i < sizeof want / sizeof want[0]; i++) {
        const bk_proportion got = bk_wilson(want[i].events, want[i].n);
        assert_near(got.pct, 100 * want[i].events / want[i].n, 1e-12);
        assert_near(got.low_pct, want[i].low_pct, 1e-9);
        assert_near(got.high_pct, want[i].high_pct, 1e-9);
    }
}

/* ---- lines under uncertainty ---- */

static bk_protect protect_of(const bk_risk_inputs *in, int samples)
{
    return bk_protect_rules(in, (bk_sampling){samples, 3}, bk_evidence_builtin());
}

/* Main vessel and side branch at these stenoses with SD 5 points; the other parts of the main vessel far below. */
static bk_risk_inputs two_stenoses(double main_pct, double side_pct)
{
    bk_risk_inputs in = nothing();
    put(&in, BK_IN_PROXIMAL_STENOSIS, main_pct, 5, BK_MEASURED);
    put(&in, BK_IN_DISTAL_STENOSIS, 10, 5, BK_MEASURED);
    put(&in, BK_IN_CORE_STENOSIS, 10, 5, BK_MEASURED);
    put(&in, BK_IN_SIDE_STENOSIS, side_pct, 5, BK_MEASURED);
    return in;
}

static void test_protect__one_on_the_line_is_half_both_a_quarter(void **state)
{
    (void)state;
    /* closed form: a normal at its own mean is reached half the time, two independent ones a quarter */
    bk_risk_inputs in = two_stenoses(60, 90);
    bk_protect p = protect_of(&in, 10000);
    assert_int_equal(rule(&p, "tight_both_60").met, BK_YES);
    assert_near(rule(&p, "tight_both_60").certainty_pct, 50, 3);
    assert_near(rule(&p, "side_60").certainty_pct, 100, 0.1);
    in = two_stenoses(60, 60);
    p = protect_of(&in, 10000);
    assert_near(rule(&p, "tight_both_60").certainty_pct, 25, 3);
    assert_near(p.stable_pct, 25, 3); /* the displayed set is: all three met */
    in = two_stenoses(59.9, 90);
    p = protect_of(&in, 10000);
    assert_int_equal(rule(&p, "tight_both_60").met, BK_NO); /* met follows the best value, certainty is apart */
}

static void test_protect__certainty_is_the_normal_distribution(void **state)
{
    (void)state;
    /* P(Z <= 1), any table: 0.8413; within 4 standard errors of 40,000 draws */
    bk_risk_inputs in = two_stenoses(90, 65);
    const bk_protect p = protect_of(&in, 40000);
    assert_near(rule(&p, "side_60").certainty_pct, 84.134, 400 * sqrt(0.8413 * 0.1587 / 40000));
    assert_int_equal(p.decisive.held, BK_IN_SIDE_STENOSIS);
    assert_near(p.decisive.stable_pct, 100, 0.1);
}

static void test_protect__the_scale_is_shared(void **state)
{
    (void)state;
    /* With a common scale error and no other, two lines that lie equally far are crossed together: stability equals
       the certainty of one; with errors of their own it would be its square. */
    bk_risk_inputs in = nothing();
    in.scale_sd_pct = 10;
    put(&in, BK_IN_SIDE_REFERENCE, 2.1, 0, BK_MEASURED); /* line 2.0 */
    put(&in, BK_IN_PROXIMAL_LESION, 5.25, 0, BK_MEASURED);
    put(&in, BK_IN_DISTAL_LESION, 5.25, 0, BK_MEASURED); /* together 10.5, line 10 */
    bk_protect p = protect_of(&in, 10000);
    const double one = rule(&p, "side_ref_2mm").certainty_pct;
    assert_near(one, 68.303, 2); /* scipy norm.cdf(0.1 / 0.21) = 0.6830; 4 standard errors are 1.9 */
    assert_near(rule(&p, "main_length_10mm").certainty_pct, one, 1e-9);
    assert_near(p.stable_pct, one, 1e-9);
    assert_int_equal(p.decisive.held, BK_HELD_SCALE); /* nothing else errs */
    assert_near(p.decisive.stable_pct, 100, 0);
    put(&in, BK_IN_SIDE_REFERENCE, 2.1, 0.21, BK_ENTERED); /* not off the picture: no share in the scale */
    p = protect_of(&in, 40000);
    assert_near(p.stable_pct, rule(&p, "side_ref_2mm").certainty_pct * rule(&p, "main_length_10mm").certainty_pct / 100, 1.2);
}

/* Side branch of 2.0 +- 0.1 mm with a smallest lumen of 0.8 +- 0.05 mm: both lines are hit exactly. */
static bk_risk_inputs stenosis_from_diameters(double share)
{
    bk_risk_inputs in = nothing();
    put(&in, BK_IN_SIDE_REFERENCE, 2.0, 0.1, BK_MEASURED);
    put(&in, BK_IN_SIDE_STENOSIS, 60, 3.2, BK_DERIVED);
    in.parts[BK_SIDE] = (bk_stenosis_parts){true, bk_qty_of(0.8, 0.05, BK_MEASURED), share};
    return in;
}

static void test_protect__a_stenosis_errs_with_its_diameters(void **state)
{
    (void)state;
    /* scipy integrate.quad over R of pdf(R) P(M <= 0.4 R): 0.3574 for both lines together (independent errors: 0.25),
       0.5 for the stenosis alone; 4 standard errors of 40,000 draws are 1 point */
    bk_risk_inputs in = stenosis_from_diameters(0);
    bk_protect p = protect_of(&in, 40000);
    assert_near(rule(&p, "side_60").certainty_pct, 50, 1);
    assert_near(p.stable_pct, 35.739, 1);
    /* errors of both diameters in step and in proportion, as by a wrong scale: the stenosis does not feel them */
    in = stenosis_from_diameters(1);
    in.parts[BK_SIDE].mld.sd = 0.04;
    in.fact[BK_IN_SIDE_STENOSIS].q.value = 61;
    in.parts[BK_SIDE].mld.value = 0.8;
    p = protect_of(&in, 2000);
    assert_near(rule(&p, "side_60").certainty_pct, 100, 0);
    in = stenosis_from_diameters(0);
    in.scale_sd_pct = 30; /* the scale cancels in the ratio of two diameters off the picture */
    p = protect_of(&in, 40000);
    assert_near(rule(&p, "side_60").certainty_pct, 50, 1);
}

static void test_protect__boundaries_are_as_published(void **state)
{
    (void)state;
    /* "60 % or more", "about 2.0 mm up", "at least 73 mm" include the line; "longer than 10 mm" does not */
    bk_risk_inputs in = two_stenoses(60, 60);
    exact(&in, BK_IN_SIDE_REFERENCE, 2.0);
    exact(&in, BK_IN_SIDE_VESSEL, 73);
    exact(&in, BK_IN_PROXIMAL_LESION, 4);
    exact(&in, BK_IN_DISTAL_LESION, 6);
    bk_protect p = protect_of(&in, 10);
    assert_int_equal(rule(&p, "side_60").met, BK_YES);
    assert_int_equal(rule(&p, "main_60").met, BK_YES);
    assert_int_equal(rule(&p, "side_ref_2mm").met, BK_YES);
    assert_int_equal(rule(&p, "length_73mm").met, BK_YES);
    assert_int_equal(rule(&p, "main_length_10mm").met, BK_NO);
    exact(&in, BK_IN_DISTAL_LESION, 6.1);
    p = protect_of(&in, 10);
    assert_int_equal(rule(&p, "main_length_10mm").met, BK_YES);
    assert_int_equal(rule(&p, "mass_10pct").met, BK_UNKNOWN);
}

static void test_protect__missing_is_unknown_never_no(void **state)
{
    (void)state;
    bk_risk_inputs in = nothing();
    bk_protect p = protect_of(&in, 10);
    for (size_t i = 0; i < BK_PROTECT_RULES; i++) {
        assert_int_equal(p.rules[i].met, BK_UNKNOWN);
        assert_true(isnan(p.rules[i].certainty_pct));
        assert_true(isnan(p.rules[i].value));
    }
    assert_true(isnan(p.stable_pct));
    in = two_stenoses(50, 90);
    in.fact[BK_IN_CORE_STENOSIS] = (bk_fact){bk_qty_absent(), BK_FROM_NOWHERE};
    p = protect_of(&in, 10); /* the core could be the tightest */
    assert_int_equal(rule(&p, "main_60").met, BK_UNKNOWN);
    assert_int_equal(rule(&p, "tight_both_60").met, BK_UNKNOWN);
    put(&in, BK_IN_SIDE_STENOSIS, 30, 5, BK_MEASURED);
    p = protect_of(&in, 10); /* one half is not met, so both are not, whatever the core is */
    assert_int_equal(rule(&p, "tight_both_60").met, BK_NO);
}

static void test_protect__one_view_gives_lower_bounds_and_no_angles(void **state)
{
    (void)state;
    bk_risk_inputs in = nothing();
    put(&in, BK_IN_SIDE_VESSEL, 60, 2, BK_PROJECTED);
    put(&in, BK_IN_PROXIMAL_LESION, 8, 0.5, BK_PROJECTED);
    put(&in, BK_IN_DISTAL_LESION, 7, 0.5, BK_PROJECTED);
    const bk_protect p = protect_of(&in, 10);
    assert_int_equal(rule(&p, "length_73mm").met, BK_UNKNOWN); /* 60 mm seen, could be 73 */
    assert_int_equal(rule(&p, "main_length_10mm").met, BK_YES); /* 15 mm seen is more than 10 */
    assert_true(rule(&p, "main_length_10mm").at_least);
    put(&in, BK_IN_DISTAL_SIDE_ANGLE, 30, 2, BK_PROJECTED);
    put(&in, BK_IN_PROXIMAL_SIDE_ANGLE, 150, 2, BK_PROJECTED);
    assert_int_equal(model(&in, "progress_angle").factors[0].present, BK_UNKNOWN);
    assert_null(model(&in, "progress_angle").stratum);
    assert_int_equal(model(&in, "cosine_carina").factors[0].present, BK_UNKNOWN);
}

static void test_protect__no_sd_no_certainty(void **state)
{
    (void)state;
    bk_risk_inputs in = two_stenoses(90, 90);
    put(&in, BK_IN_SIDE_REFERENCE, 2.5, (double)NAN, BK_VISUAL);
    const bk_protect p = protect_of(&in, 100);
    assert_int_equal(rule(&p, "side_ref_2mm").met, BK_YES);
    assert_true(isnan(rule(&p, "side_ref_2mm").certainty_pct));
    assert_int_equal(rule(&p, "side_ref_2mm").without_sd, BK_IN_SIDE_REFERENCE);
    assert_near(p.stable_pct, 100, 0.1); /* over the rules that have one */
}

static void test_protect__this_case_among_the_strata(void **state)
{
    (void)state;
    bk_risk_inputs in = two_stenoses(70, 40);
    bk_stenosis_place place = bk_protect_place(&in);
    assert_near(place.main.pct, 70, 0);
    assert_near(place.main.high_pct, 70 + 1.6449 * 5, 1e-3); /* normal quantile of 0.95, any table */
    assert_near(place.side.low_pct, 40 - 1.6449 * 5, 1e-3);
    in.fact[BK_IN_CORE_STENOSIS] = (bk_fact){bk_qty_absent(), BK_FROM_NOWHERE};
    place = bk_protect_place(&in);
    assert_true(place.main_at_least);
    put(&in, BK_IN_SIDE_STENOSIS, 99, 5, BK_MEASURED);
    assert_near(bk_protect_place(&in).side.high_pct, 100, 0);
    in = nothing();
    assert_true(isnan(bk_protect_place(&in).main.pct) && isnan(bk_protect_place(&in).side.pct));
}

static void test_protect__who_belongs_to_a_comparison(void **state)
{
    (void)state;
    bk_risk_inputs in = two_stenoses(90, 60);
    bk_protect p = protect_of(&in, 10);
    const bk_evidence_set *e = bk_evidence_builtin();
    for (const bk_comparison *c = bk_comparisons; c->id; c++) {
        const bool side = strcmp(c->id, "cobis3_side_60") == 0, balloon = strcmp(c->id, "jailed_balloon_loss") == 0;
        if (!side && !balloon)
            continue;
        in.site = BK_SITE_NOT_SAID;
        exact(&in, BK_IN_SIDE_REFERENCE, 2.5);
        p = protect_of(&in, 10);
        assert_int_equal(bk_comparison_belongs(c, &p, &in, e), side ? BK_UNKNOWN : BK_NO); /* below 2.5 mm */
        in.site = BK_LCX_MARGINAL;
        exact(&in, BK_IN_SIDE_REFERENCE, 2.4);
        assert_int_equal(bk_comparison_belongs(c, &p, &in, e), side ? BK_YES : BK_UNKNOWN); /* score not computed */
        in.site = BK_LEFT_MAIN;
        assert_int_equal(bk_comparison_belongs(c, &p, &in, e), side ? BK_NO : BK_UNKNOWN);
    }
}

/* ---- models ---- */

static bk_risk_inputs all_of_cobis2(double length_mm)
{
    bk_risk_inputs in = nothing();
    exact(&in, BK_IN_SIDE_STENOSIS, 70);
    exact(&in, BK_IN_PROXIMAL_STENOSIS, 70);
    exact(&in, BK_IN_SIDE_LESION, length_mm);
    in.known[BK_FACT_ACS] = BK_YES;
    return in;
}

static void test_cobis2__relative_odds_as_worked(void **state)
{
    (void)state;
    /* 2.34 x 2.34 x 1.53 x 1.03^10 = 11.26, from the odds ratios of Hahn 2013; with 7 mm 10.3 (invented case 3) */
    bk_risk_inputs in = all_of_cobis2(10);
    assert_near(model(&in, "cobis2").relative_odds, 11.3, 0.1);
    in = all_of_cobis2(7);
    assert_near(model(&in, "cobis2").relative_odds, 10.3, 0.05);
    in = all_of_cobis2(0);
    in.known[BK_FACT_ACS] = BK_NO;
    exact(&in, BK_IN_SIDE_STENOSIS, 49.9);
    exact(&in, BK_IN_PROXIMAL_STENOSIS, 49.9);
    assert_near(model(&in, "cobis2").relative_odds, 1, 1e-12);
    exact(&in, BK_IN_SIDE_STENOSIS, 50); /* "at least 50 %" */
    assert_near(model(&in, "cobis2").relative_odds, 2.34, 1e-12);
    assert_true(isnan(model(&in, "cobis2").stratum_pct.pct)); /* no intercept: no percentage */
}

static void test_cobis2__unknown_factors_give_a_range(void **state)
{
    (void)state;
    bk_risk_inputs in = all_of_cobis2(0);
    in.known[BK_FACT_ACS] = BK_UNKNOWN;
    bk_risk_model m = model(&in, "cobis2");
    assert_true(isnan(m.relative_odds));
    assert_near(m.odds_low, 2.34 * 2.34, 1e-9);
    assert_near(m.odds_high, 2.34 * 2.34 * 1.53, 1e-9);
    in = all_of_cobis2(0);
    put(&in, BK_IN_SIDE_LESION, 10, 1, BK_PROJECTED); /* one view: at least */
    m = model(&in, "cobis2");
    assert_near(m.relative_odds, 11.26, 0.01);
    assert_true(m.odds_at_least && isinf(m.odds_high));
    in.fact[BK_IN_SIDE_LESION] = (bk_fact){bk_qty_absent(), BK_FROM_NOWHERE};
    assert_true(isnan(model(&in, "cobis2").relative_odds));
}

static void test_models__tightening_never_lowers_the_odds(void **state)
{
    (void)state;
    static const bk_risk_input stenoses[] = {BK_IN_PROXIMAL_STENOSIS, BK_IN_DISTAL_STENOSIS, BK_IN_CORE_STENOSIS, BK_IN_SIDE_STENOSIS};
    bk_risk_model before[BK_RISK_MODELS_MAX], after[BK_RISK_MODELS_MAX];
    bk_random random;
    bk_random_seed(&random, 5);
    for (int k = 0; k < 300; k++) {
        bk_risk_inputs in = nothing();
        for (int i = 0; i < 4; i++)
            if (bk_random_unit(&random) < 0.8)
                exact(&in, stenoses[i], bk_random_between(&random, 0, 100));
        exact(&in, BK_IN_SIDE_LESION, bk_random_between(&random, 0, 20));
        in.known[BK_FACT_ACS] = bk_random_unit(&random) < 0.5 ? BK_NO : BK_YES;
        const size_t n = bk_risk_models(&in, (bk_sampling){1, 1}, bk_evidence_builtin(), before);
        const bk_protect rules = protect_of(&in, 1);
        bk_fact *tightened = &in.fact[stenoses[k % 4]];
        if (!bk_has(tightened->q))
            continue;
        tightened->q.value += bk_random_between(&random, 0, 100 - tightened->q.value);
        bk_risk_models(&in, (bk_sampling){1, 1}, bk_evidence_builtin(), after);
        for (size_t i = 0; i < n; i++) {
            assert_false(after[i].relative_odds < before[i].relative_odds);
            assert_false(after[i].odds_low < before[i].odds_low || after[i].odds_high < before[i].odds_high);
        }
        const bk_protect tighter = protect_of(&in, 1);
        for (size_t i = 0; i < BK_PROTECT_RULES; i++) {
            assert_true(rules.rules[i].met != BK_YES || tighter.rules[i].met == BK_YES);
            assert_true(rules.rules[i].met != BK_UNKNOWN || tighter.rules[i].met != BK_NO);
        }
    }
}

static void test_models__a_missing_input_is_never_no(void **state)
{
    (void)state;
    bk_risk_model models[BK_RISK_MODELS_MAX];
    const bk_risk_inputs in = nothing();
    const size_t n = bk_risk_models(&in, few, bk_evidence_builtin(), models);
    assert_true(n > 10);
    for (size_t i = 0; i < n; i++) {
        for (size_t k = 0; k < models[i].n; k++)
            assert_int_equal(models[i].factors[k].present, BK_UNKNOWN);
        assert_int_equal(models[i].verdict, BK_UNKNOWN);
        assert_true(isnan(models[i].relative_odds));
        assert_true(models[i].head->end_point[0] && models[i].head->population[0]); /* stand beside every number */
    }
}

static void test_models__strata_verbatim(void **state)
{
    (void)state;
    /* COBIS III: unwired 11.3 % from 60 % side stenosis, 6.2 % from 60 % main stenosis, 2.9 % of all; PROGRESS by
       angle 22.6, 11.7, 12.8 %; both as read in the abstracts */
    bk_risk_inputs in = two_stenoses(60, 60);
    assert_near(model(&in, "cobis3_side_60").stratum_pct.pct, 11.3, 0);
    assert_near(model(&in, "cobis3_main_60").stratum_pct.pct, 6.2, 0);
    assert_near(model(&in, "cobis3_all").stratum_pct.pct, 2.9, 0);
    assert_true(model(&in, "cobis3_side_60").stratum_unwired);
    assert_true(isnan(model(&in, "cobis3_side_60").stratum_pct.low_pct)); /* arms' sizes were not published */
    in = two_stenoses(59, 59);
    assert_null(model(&in, "cobis3_side_60").stratum);
    static const struct {
        double angle_deg, pct;
    } want[] = {{44.9, 22.6}, {45, 11.7}, {70, 11.7}, {70.1, 12.8}};
    for (size_t i = 0; i < sizeof want / sizeof want[0]; i++) {
        exact(&in, BK_IN_DISTAL_SIDE_ANGLE, want[i].angle_deg);
        assert_near(model(&in, "progress_angle").stratum_pct.pct, want[i].pct, 0);
        assert_false(model(&in, "progress_angle").stratum_unwired);
    }
    assert_near(model(&in, "resolve").whole_pct.pct, 7.37, 0.005); /* printed */
    assert_near(model(&in, "cobis2").whole_pct.pct, 8.4, 0.05);
    assert_null(model(&in, "v_resolve").stratum); /* the score is not computed */
}

static void test_models__cosine_table(void **state)
{
    (void)state;
    /* cosine of the turn from the parent's axis into the branch, plane trigonometry (any table) */
    static const struct {
        double turn_deg, pct;
        bk_tri closes;
    } want[] = {{30, 86.60, BK_YES}, {40, 76.60, BK_YES}, {45, 70.71, BK_YES}, {46, 69.47, BK_NO}, {50, 64.28, BK_NO},
                {60, 50, BK_NO},     {70, 34.20, BK_NO},  {80, 17.36, BK_NO},  {90, 0, BK_NO},     {120, 0, BK_NO}};
    for (size_t i = 0; i < sizeof want / sizeof want[0]; i++) {
        bk_risk_inputs in = nothing();
        exact(&in, BK_IN_PROXIMAL_SIDE_ANGLE, 180 - want[i].turn_deg);
        const bk_risk_model m = model(&in, "cosine_carina");
        assert_near(m.predicted_stenosis_pct, want[i].pct, 0.01);
        assert_int_equal(m.factors[0].present, want[i].closes);
    }
}

static void test_models__applies_only_where_it_was_made(void **state)
{
    (void)state;
    bk_risk_inputs in = all_of_cobis2(5);
    exact(&in, BK_IN_SIDE_REFERENCE, 2.3);
    assert_true(model(&in, "cobis2").applies);
    exact(&in, BK_IN_SIDE_REFERENCE, 2.29);
    assert_false(model(&in, "cobis2").applies);
    in.site = BK_LEFT_MAIN;
    assert_false(model(&in, "resolve").applies || model(&in, "cobis3_all").applies || model(&in, "lad_series").applies);
    assert_true(model(&in, "left_main").applies);
    in.site = BK_LAD_DIAGONAL;
    assert_true(model(&in, "resolve").applies && model(&in, "lad_series").applies);
    assert_false(model(&in, "left_main").applies || model(&in, "primary_intervention").applies);
    in.known[BK_FACT_STEMI] = BK_YES;
    assert_true(model(&in, "primary_intervention").applies);
    for (int context = BK_IN_STENT; context <= BK_GRAFT_ANASTOMOSIS; context++) {
        in.context = context;
        assert_false(model(&in, "resolve").applies);
    }
    in.context = BK_DE_NOVO;
    in.strategy = BK_DK_CRUSH;
    assert_false(model(&in, "resolve").applies);
    in.strategy = BK_PROVISIONAL;
    in.presentation = BK_SHOCK;
    assert_false(model(&in, "resolve").applies);
    in.presentation = BK_CHRONIC;
    in.side_occluded = BK_YES; /* what is closed cannot be lost; complexity can still be asked */
    assert_false(model(&in, "resolve").applies || model(&in, "cobis2").applies);
    assert_true(model(&in, "bif_arc").applies);
    in.side_occluded = BK_NO;
    assert_true(model(&in, "resolve").applies);
    in.trifurcation = BK_YES;
    assert_false(model(&in, "resolve").applies);
    assert_true(strlen(model(&in, "resolve").why_not) > 5);
}

/* ---- complexity ---- */

/* A true bifurcation away from the left main with the major criterion and these minor ones; the rest known absent. */
static bk_risk_inputs complex_case(double side_pct, double side_mm, int minors)
{
    bk_risk_inputs in = nothing();
    in.site = BK_LCX_MARGINAL;
    exact(&in, BK_IN_PROXIMAL_STENOSIS, 60);
    exact(&in, BK_IN_DISTAL_STENOSIS, 60);
    exact(&in, BK_IN_SIDE_STENOSIS, side_pct);
    exact(&in, BK_IN_SIDE_LESION, side_mm);
    exact(&in, BK_IN_DISTAL_SIDE_ANGLE, minors & 1 ? 44.9 : 45);
    exact(&in, BK_IN_PROXIMAL_REFERENCE, minors & 2 ? 2.5 : 2.6);
    exact(&in, BK_IN_DISTAL_REFERENCE, 2.4); /* mean 2.45 or 2.5: below 2.5 or not */
    exact(&in, BK_IN_PROXIMAL_LESION, minors & 4 ? 10 : 9.9);
    exact(&in, BK_IN_DISTAL_LESION, 15); /* 25 or 24.9: at least 25 or not */
    in.known[BK_FACT_CALCIUM_MODERATE] = minors & 8 ? BK_YES : BK_NO;
    in.known[BK_FACT_THROMBUS] = minors & 16 ? BK_YES : BK_NO;
    return in;
}

static void test_definition__truth_table(void **state)
{
    (void)state;
    /* the criteria as printed in BMJ Open 2018;8:e020019: one major and any two minor; "multiple lesions" cannot be
       said by a case, so with one other minor criterion the answer stays open */
    for (int minors = 0; minors < 32; minors++) {
        int n = 0;
        for (int bit = 0; bit < 5; bit++)
            n += minors >> bit & 1;
        const bk_tri want = n >= 2 ? BK_YES : n == 1 ? BK_UNKNOWN : BK_NO;
        bk_risk_inputs in = complex_case(90, 10, minors);
        assert_int_equal(model(&in, "definition").verdict, want);
        in = complex_case(89.9, 10, minors); /* not left main: 90 % */
        assert_int_equal(model(&in, "definition").verdict, BK_NO);
        in = complex_case(90, 9.9, minors);
        assert_int_equal(model(&in, "definition").verdict, BK_NO);
        in = complex_case(70, 10, minors); /* left main: 70 % */
        in.site = BK_LEFT_MAIN;
        assert_int_equal(model(&in, "definition").verdict, want);
        exact(&in, BK_IN_SIDE_STENOSIS, 69.9);
        assert_int_equal(model(&in, "definition").verdict, BK_NO);
        exact(&in, BK_IN_SIDE_STENOSIS, 80); /* between the two majors */
        in.site = BK_SITE_NOT_SAID;
        assert_int_equal(model(&in, "definition").verdict, n == 0 ? BK_NO : BK_UNKNOWN);
    }
    bk_risk_inputs in = complex_case(95, 12, 24);
    exact(&in, BK_IN_DISTAL_SIDE_ANGLE, 70); /* above 70 counts, 70 does not */
    bk_risk_model m = model(&in, "definition");
    assert_int_equal(bk_risk_factor(&m, "angle_above_70")->present, BK_NO);
    assert_near(m.stratum_pct.pct, 16.8, 0);
    /* scipy: binomtest(186, 1108).proportion_ci(0.95, "wilson") */
    assert_near(m.stratum_pct.low_pct, 14.70, 0.01);
    assert_near(m.stratum_pct.high_pct, 19.10, 0.01);
    exact(&in, BK_IN_PROXIMAL_STENOSIS, 40);
    exact(&in, BK_IN_DISTAL_STENOSIS, 40);
    m = model(&in, "definition");
    assert_false(m.applies);
    assert_int_equal(m.verdict, BK_NO);
}

static void test_bif_arc__true_bifurcation_with_one_sign(void **state)
{
    (void)state;
    bk_risk_inputs in = complex_case(60, 10, 0);
    in.known[BK_FACT_CALCIFIED] = BK_NO;
    assert_int_equal(model(&in, "bif_arc").verdict, BK_YES);
    exact(&in, BK_IN_SIDE_LESION, 9.9);
    assert_int_equal(model(&in, "bif_arc").verdict, BK_UNKNOWN); /* whether access is difficult cannot be said */
    in.known[BK_FACT_CALCIFIED] = BK_YES;
    assert_int_equal(model(&in, "bif_arc").verdict, BK_YES);
    exact(&in, BK_IN_SIDE_STENOSIS, 49.9);
    assert_int_equal(model(&in, "bif_arc").verdict, BK_NO);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_proportion__wilson_as_scipy),
        cmocka_unit_test(test_protect__one_on_the_line_is_half_both_a_quarter),
        cmocka_unit_test(test_protect__certainty_is_the_normal_distribution),
        cmocka_unit_test(test_protect__the_scale_is_shared),
        cmocka_unit_test(test_protect__a_stenosis_errs_with_its_diameters),
        cmocka_unit_test(test_protect__boundaries_are_as_published),
        cmocka_unit_test(test_protect__missing_is_unknown_never_no),
        cmocka_unit_test(test_protect__one_view_gives_lower_bounds_and_no_angles),
        cmocka_unit_test(test_protect__no_sd_no_certainty),
        cmocka_unit_test(test_protect__this_case_among_the_strata),
        cmocka_unit_test(test_protect__who_belongs_to_a_comparison),
        cmocka_unit_test(test_cobis2__relative_odds_as_worked),
        cmocka_unit_test(test_cobis2__unknown_factors_give_a_range),
        cmocka_unit_test(test_models__tightening_never_lowers_the_odds),
        cmocka_unit_test(test_models__a_missing_input_is_never_no),
        cmocka_unit_test(test_models__strata_verbatim),
        cmocka_unit_test(test_models__cosine_table),
        cmocka_unit_test(test_models__applies_only_where_it_was_made),
        cmocka_unit_test(test_definition__truth_table),
        cmocka_unit_test(test_bif_arc__true_bifurcation_with_one_sign),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
