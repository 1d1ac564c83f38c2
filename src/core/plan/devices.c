/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/devices.h"

#include <math.h>

const char *const bk_use_names[BK_USES] = {"main_stent",   "side_stent",   "pot_balloon",  "side_balloon",
                                           "kissing_main", "kissing_side", "predilatation"};
const char *const bk_use_words[BK_USES] = {"Main stent",    "Side-branch stent", "POT balloon",  "Side-branch balloon",
                                           "Kissing, main", "Kissing, side",     "Predilatation"};

static bool from_picture(const bk_fact *fact)
{
    return fact->from == BK_FROM_SOLID || fact->from == BK_FROM_MEASUREMENT;
}

/* Sizes taken off a picture whose scale is in dispute are not given; those entered by hand are. */
static bool scale_in_dispute(const bk_facts *facts, enum bk_limb limb)
{
    return facts->agreement == BK_DISAGREE && from_picture(&facts->limb[limb].reference_mm);
}

static bool length_in_dispute(const bk_facts *facts, const bk_strategy_traits *strategy)
{
    return facts->agreement == BK_DISAGREE && (from_picture(&facts->limb[strategy->axis].lesion_length_mm) ||
                                               from_picture(&facts->limb[BK_PROXIMAL].lesion_length_mm) ||
                                               from_picture(&facts->limb[strategy->other].reference_mm));
}

typedef struct planner {
    const bk_facts *facts;
    double step_mm;
    bk_devices *out;
} planner;

/* Add a device sized by the reference of a limb: 1:1, or at another target when one is given. */
static bk_device *add(const planner *p, bk_use use, enum bk_limb by)
{
    bk_device *item = &p->out->items[p->out->n++];
    *item = (bk_device){.use = use, .by = by};
    const bk_qty reference = p->facts->limb[by].reference_mm.q;
    if (scale_in_dispute(p->facts, by))
        p->out->withdrawn = true;
    else if (bk_has(reference))
        item->size =
            bk_size_choose(reference.value, bk_fact_sd(reference, p->facts->scale_sd_pct), p->step_mm);
    return item;
}

static const bk_device *find(const bk_devices *devices, bk_use use)
{
    for (size_t i = 0; i < devices->n; i++)
        if (devices->items[i].use == use)
            return &devices->items[i];
    return NULL;
}

static void add_predilatation(const planner *p, int calcium, const bk_evidence_set *evidence)
{
    bk_devices *out = p->out;
    out->calcium =
        calcium == BK_CALCIUM_MODERATE || calcium == BK_CALCIUM_SEVERE || calcium == BK_CALCIUM_NODULE;
    out->predilatation_low_mm = out->predilatation_high_mm = (double)NAN;
    bk_device *item = add(p, BK_USE_PREDILATATION, out->strategy.axis);
    if (!item->size.known)
        return;
    const bk_qty reference = p->facts->limb[item->by].reference_mm.q;
    const double below = bk_evidence_value(evidence, BK_EVIDENCE("predilatation_below"));
    out->predilatation_low_mm =
        reference.value * bk_evidence_low(evidence, BK_EVIDENCE("predilatation_ratio"));
    out->predilatation_high_mm =
        reference.value * bk_evidence_high(evidence, BK_EVIDENCE("predilatation_ratio"));
    if (!out->calcium) // in small vessels half a millimetre less would fall out of the usual range
        item->size = bk_size_choose(fmax(reference.value - below, out->predilatation_low_mm),
                                    bk_fact_sd(reference, p->facts->scale_sd_pct), p->step_mm);
}

static void add_items(const planner *p, int calcium, const bk_evidence_set *evidence)
{
    const bk_strategy_traits strategy = p->out->strategy;
    add(p, BK_USE_MAIN_STENT, strategy.axis);
    if (strategy.second_stent)
        add(p, BK_USE_SIDE_STENT, strategy.other);
    add(p, BK_USE_POT_BALLOON, BK_PROXIMAL);
    add(p, BK_USE_SIDE_BALLOON, strategy.other);
    add(p, BK_USE_KISSING_MAIN, strategy.axis);
    add(p, BK_USE_KISSING_SIDE, strategy.other);
    add_predilatation(p, calcium, evidence);
}

static bool usable(const bk_facts *facts, enum bk_limb limb)
{
    return bk_has(facts->limb[limb].reference_mm.q) && !scale_in_dispute(facts, limb);
}

/* Agreement of each law with data depends on how unequal the daughters are (Huo 2012). */
static void fill_laws(const bk_evidence_set *evidence, double distal_mm, double side_mm, double proximal_mm,
                      bk_devices *out)
{
    const bk_branching_law laws[BK_MOTHER_LAWS] = {bk_law_fractal(evidence), bk_law_hk(evidence),
                                                   bk_law_murray(evidence)};
    static const char *const ids[BK_MOTHER_LAWS] = {BK_EVIDENCE("law_fractal"), BK_EVIDENCE("law_hk"),
                                                    BK_EVIDENCE("law_murray")};
    const double ratio = out->daughter_ratio;
    const bool applies[BK_MOTHER_LAWS] = {
        ratio >= bk_evidence_value(evidence, BK_EVIDENCE("law_fractal_daughter_ratio")), true,
        ratio <= bk_evidence_value(evidence, BK_EVIDENCE("law_murray_daughter_ratio"))};
    for (int i = 0; i < BK_MOTHER_LAWS; i++) {
        const double mother = bk_branching_mother(laws[i], distal_mm, side_mm);
        out->laws[i] = (bk_mother_check){ids[i], mother, proximal_mm - mother, applies[i]};
    }
}

static void check_laws(const bk_facts *facts, const bk_evidence_set *evidence, bk_devices *out)
{
    out->laws_known = usable(facts, BK_DISTAL) && usable(facts, BK_SIDE);
    out->daughter_ratio = (double)NAN;
    const double distal = facts->limb[BK_DISTAL].reference_mm.q.value;
    const double side = facts->limb[BK_SIDE].reference_mm.q.value;
    const double proximal =
        usable(facts, BK_PROXIMAL) ? facts->limb[BK_PROXIMAL].reference_mm.q.value : (double)NAN;
    out->distal_larger = usable(facts, BK_DISTAL) && distal > proximal;
    if (!out->laws_known)
        return;
    out->daughter_ratio = fmin(distal, side) / fmax(distal, side);
    fill_laws(evidence, distal, side, proximal, out);
    const double tolerance = bk_evidence_value(evidence, BK_EVIDENCE("mother_tolerance")) / 100;
    const double low = fmin(out->laws[0].mother_mm, out->laws[1].mother_mm);
    const double high = fmax(out->laws[0].mother_mm, out->laws[1].mother_mm);
    if (proximal < low * (1 - tolerance))
        out->mother_doubt = BK_MOTHER_SMALL;
    else if (proximal > high * (1 + tolerance))
        out->mother_doubt = BK_MOTHER_LARGE;
}

static void outline_kissing(const bk_evidence_set *evidence, bk_devices *out)
{
    const bk_device *main = find(out, BK_USE_KISSING_MAIN), *side = find(out, BK_USE_KISSING_SIDE);
    out->kissing_known = main->size.known && side->size.known;
    out->perimeter_over_fractal = (double)NAN;
    if (!out->kissing_known)
        return;
    out->kissing = bk_kissing_outline(main->size.nominal_mm, side->size.nominal_mm);
    out->perimeter_over_fractal =
        out->kissing.perimeter_diameter_mm /
        bk_branching_mother(bk_law_fractal(evidence), main->size.nominal_mm, side->size.nominal_mm);
}

bk_devices bk_devices_plan(const bk_facts *facts, int calcium, int strategy, const bk_evidence_set *evidence)
{
    bk_devices out = {.strategy = bk_strategy_find(strategy)};
    const planner p = {facts, bk_evidence_value(evidence, BK_EVIDENCE("size_step")), &out};
    check_laws(facts, evidence, &out);
    if (!out.strategy.sized)
        return out;
    add_items(&p, calcium, evidence);
    const bk_device *stent = find(&out, BK_USE_MAIN_STENT), *pot = find(&out, BK_USE_POT_BALLOON);
    if (stent->size.known && pot->size.known)
        out.platforms_n =
            bk_platforms_for(evidence, stent->size.nominal_mm, pot->size.target_mm, out.platforms);
    out.main_length = bk_stent_length_of(facts, out.strategy.axis, out.strategy.other, evidence);
    if (length_in_dispute(facts, &out.strategy)) {
        out.main_length = (bk_stent_length){.verdict = BK_LENGTH_WITHDRAWN, .length_mm = (double)NAN};
        out.withdrawn = true;
    }
    outline_kissing(evidence, &out);
    for (size_t i = 0; i < out.n; i++)
        out.spread_unknown |= out.items[i].size.known && !out.items[i].size.spread_known;
    return out;
}
