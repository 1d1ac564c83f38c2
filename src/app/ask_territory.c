/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ask territory: muscle behind both daughters by each method, and the rules that rest on it. */
#include <math.h>

#include "app/answer.h"
#include "core/flow/muscle.h"
#include "core/flow/territory.h"
#include "core/num.h"

bk_json *bk_mass_json(const bk_mass *mass)
{
    if (isnan(mass->value))
        return bk_json_new_null();
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "value", mass->value, 1);
    bk_json_put_fixed(out, "low", mass->low, 1);
    bk_json_put_fixed(out, "high", mass->high, 1);
    bk_json_put_integer(out, "level_pct", BK_LEVEL_PCT);
    return out;
}

static bk_json *by_method(const bk_mass *mass, int method)
{
    bk_json *out = bk_mass_json(mass);
    if (!bk_json_is_null(out))
        bk_json_put_text(out, "method", bk_territory_method_names[method]);
    return out;
}
/* The first method, in their order, that knows this limb; BK_TERRITORY_METHODS: none. */
static int leading(const bk_territory *t, int limb)
{
    int m = 0;
    while (m < BK_TERRITORY_METHODS && isnan(t->grams[m][limb].value) && isnan(t->percent[m][limb].value))
        m++;
    return m;
}

static bk_json *limb_json(const bk_territory *t, int limb)
{
    const int lead = leading(t, limb);
    if (lead == BK_TERRITORY_METHODS)
        return bk_json_new_null();
    bk_json *out = bk_json_object(), *others = bk_json_array();
    bk_json_put(out, "mass_g", by_method(&t->grams[lead][limb], lead));
    bk_json_put(out, "mass_pct", by_method(&t->percent[lead][limb], lead));
    for (int m = lead + 1; m < BK_TERRITORY_METHODS; m++) {
        if (!t->known[m] || (isnan(t->grams[m][limb].value) && isnan(t->percent[m][limb].value)))
            continue;
        bk_json *other = bk_json_object();
        bk_json_put(other, "mass_g", by_method(&t->grams[m][limb], m));
        bk_json_put(other, "mass_pct", by_method(&t->percent[m][limb], m));
        bk_json_push(others, other);
    }
    bk_json_put(out, "other_methods", others);
    return out;
}

static void put_rule(bk_json *rules, const char *id, const char *text, bk_tri met, double value, double threshold,
                     double certainty_pct, const char *source)
{
    bk_json *rule = bk_json_object();
    bk_json_put_text(rule, "id", id);
    bk_json_put_text(rule, "text", text);
    bk_json_put_text(rule, "met", bk_tri_name(met));
    bk_json_put_fixed(rule, "value", value, 1);
    bk_json_put_fixed(rule, "threshold", threshold, 1);
    bk_json_put_fixed(rule, "threshold_certainty_pct", certainty_pct, 0);
    bk_json_put_text(rule, "source", source);
    bk_json_push(rules, rule);
}

static void length_rule(const bk_facts *facts, bk_json *rules)
{
    const char *row = BK_EVIDENCE("territory_length");
    const bk_qty q = facts->limb[BK_SIDE].vessel_length_mm.q;
    const double limit = bk_evidence_value(bk_evidence_builtin(), row);
    const double sd = bk_has(q) ? bk_fact_sd(q, facts->scale_sd_pct) : (double)NAN;
    bk_tri met = BK_UNKNOWN;
    if (bk_has(q) && q.value >= limit)
        met = BK_YES;
    else if (bk_has(q) && q.origin != BK_PROJECTED) // one view: at least this long
        met = BK_NO;
    put_rule(rules, "length_73mm", "side branch of 73 mm or more", met, bk_has(q) ? q.value : (double)NAN, limit,
             sd > 0 ? 100 * bk_normal_cdf((q.value - limit) / sd) : (double)NAN, row);
}

static void mass_rule(const bk_territory *t, bk_json *rules)
{
    const char *row = BK_EVIDENCE("territory_ten");
    const int lead = leading(t, BK_SIDE);
    const double limit = bk_evidence_value(bk_evidence_builtin(), row);
    const bk_mass nothing = {(double)NAN, (double)NAN, (double)NAN};
    const bk_mass m = lead < BK_TERRITORY_METHODS ? t->percent[lead][BK_SIDE] : nothing;
    const double sd = (m.high - m.value) / bk_normal_quantile(0.5 + BK_LEVEL_PCT / 200.0);
    put_rule(rules, "mass_10pct", "side branch feeds 10 % of the left ventricle or more",
             isnan(m.value) ? BK_UNKNOWN : m.value >= limit ? BK_YES : BK_NO, m.value, limit,
             sd > 0 ? 100 * bk_normal_cdf((m.value - limit) / sd) : (double)NAN, row);
}

static void note_inputs(const bk_asked *asked, bk_answer *answer)
{
    const bk_facts *f = asked->facts;
    const bk_fact mass = {asked->c->patient.lv_mass_g, BK_FROM_ANATOMY};
    bk_answer_input(answer, "patient.lv_mass_g", &mass, "g", -1);
    bk_answer_input(answer, "anatomy.segments.distal.vessel_length_mm", &f->limb[BK_DISTAL].vessel_length_mm, "mm",
                    f->measurement);
    bk_answer_input(answer, "anatomy.segments.side.vessel_length_mm", &f->limb[BK_SIDE].vessel_length_mm, "mm",
                    f->measurement);
    bk_answer_input(answer, "anatomy.segments.proximal.reference_mm", &f->limb[BK_PROXIMAL].reference_mm, "mm",
                    f->measurement);
    bk_answer_input(answer, "anatomy.segments.distal.reference_mm", &f->limb[BK_DISTAL].reference_mm, "mm",
                    f->measurement);
    bk_answer_input(answer, "anatomy.segments.side.reference_mm", &f->limb[BK_SIDE].reference_mm, "mm", f->measurement);
}

static void note_missing(const bk_asked *asked, const bk_territory *t, bk_answer *answer)
{
    const bk_facts *f = asked->facts;
    const int site = asked->c->anatomy.site;
    const bool vessel_known = bk_vessel_of(site, BK_SIDE, f->dominance, bk_evidence_builtin()).grams != NULL;
    if (!vessel_known)
        bk_answer_missing(answer, "anatomy.site", "no site, no published territory: nothing can be said of grams");
    else if (leading(t, BK_SIDE) == BK_TERRITORY_METHODS)
        bk_answer_missing(answer, "side", "needs vessel_length_mm or reference_mm of both daughters");
    if (vessel_known && site != BK_LEFT_MAIN && !bk_has(f->limb[BK_PROXIMAL].reference_mm.q))
        bk_answer_missing(answer, "anatomy.segments.proximal.reference_mm",
                          "tells how much of the vessel lies behind this bifurcation: all of it is taken, at most");
    if (isnan(t->lv.grams))
        bk_answer_missing(answer, "patient.lv_mass_g, or patient.height_cm, patient.weight_kg and patient.sex",
                          "give the mass of the left ventricle, and with it the percentages");
    if (!bk_has(f->limb[BK_SIDE].vessel_length_mm.q))
        bk_answer_missing(answer, "anatomy.segments.side.vessel_length_mm",
                          "decides the rule on length and the share by tree lengths");
}

static void note_sources(const bk_asked *asked, const bk_territory *t, bk_answer *answer)
{
    const int site = asked->c->anatomy.site;
    for (int k = BK_DISTAL; k < BK_LIMBS; k++) {
        const bk_vessel v = bk_vessel_of(site, k, asked->facts->dominance, bk_evidence_builtin());
        if (!v.grams)
            continue;
        bk_answer_source(answer, v.grams->id);
        if (t->lv.entered)
            bk_answer_source(answer, v.share->id);
        if (site != BK_LEFT_MAIN)
            bk_answer_source(answer, v.calibre->id);
    }
    if (t->known[BK_TERRITORY_LENGTHS])
        bk_answer_source(answer, BK_EVIDENCE("territory_tree"));
    if (t->known[BK_TERRITORY_LENGTHS] || t->known[BK_TERRITORY_DIAMETERS])
        bk_answer_source(answer, BK_EVIDENCE("flow_split"));
    if (t->known[BK_TERRITORY_SITE])
        bk_answer_source(answer, BK_EVIDENCE("territory_diagonal_pct"));
    if (!isnan(t->lv.grams) && !t->lv.entered) {
        bk_answer_source(answer, asked->c->patient.sex == BK_MALE ? BK_EVIDENCE("lv_mass_men")
                                                                  : BK_EVIDENCE("lv_mass_women"));
        bk_answer_source(answer, BK_EVIDENCE("lv_mass_spread"));
    }
    bk_answer_source(answer, BK_EVIDENCE("territory_length"));
    bk_answer_source(answer, BK_EVIDENCE("territory_ten"));
}

static void note(const bk_asked *asked, const bk_territory *t, bk_answer *answer)
{
    note_missing(asked, t, answer);
    note_inputs(asked, answer);
    bk_answer_caution(answer, "Grams and shares of a vessel are published means, quoted from another text, not verified: a "
                              "rule that rests on them decides nothing alone.");
    if (!isnan(t->lv.grams) && !t->lv.entered)
        bk_answer_caution(answer, "LV mass from height, weight and sex is a formula from memory, with the spread of another "
                                  "such formula; enter patient.lv_mass_g where imaging gave it.");
    if (asked->facts->dominance == 0)
        bk_answer_caution(answer, "Dominance is not said: the usual calibres of right dominance are taken.");
    note_sources(asked, t, answer);
}

void bk_answer_territory(const bk_asked *asked, bk_answer *answer)
{
    const bk_case *const c = asked->c;
    const bk_facts *const facts = asked->facts;
    const int site = c->anatomy.site;
    const bk_territory t = bk_territory_of(facts, &c->patient, site, bk_evidence_builtin());
    bk_json *rules = bk_json_array();
    bk_json_put(answer->json, "side", limb_json(&t, BK_SIDE));
    bk_json_put(answer->json, "distal", limb_json(&t, BK_DISTAL));
    bk_json_put_fixed(answer->json, "lv_mass_g", t.lv.grams, 1);
    bk_json_put_text(answer->json, "lv_mass_by", isnan(t.lv.grams) ? NULL : t.lv.entered ? "entered" : "body size");
    length_rule(facts, rules);
    mass_rule(&t, rules);
    put_rule(rules, "left_main", "left main bifurcation",
             site == BK_SITE_NOT_SAID ? BK_UNKNOWN : site == BK_LEFT_MAIN ? BK_YES : BK_NO, (double)NAN, (double)NAN,
             (double)NAN, BK_EVIDENCE("territory_ten"));
    bk_json_put(answer->json, "rules", rules);
    note(asked, &t, answer);
}
