/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/flow/territory.h"

#include <math.h>

#include "core/flow/scene.h"
#include "core/num.h"
#include "core/plan/sizing.h"

const char *const bk_territory_method_names[BK_TERRITORY_METHODS] = {"lengths", "diameters", "vessel", "site"};

double bk_lv_mass(const bk_patient *patient, const bk_evidence_set *evidence)
{
    if (!bk_has(patient->height_cm) || !bk_has(patient->weight_kg) || patient->sex == BK_SEX_NOT_SAID)
        return (double)NAN;
    const double a = bk_evidence_value(evidence, patient->sex == BK_MALE ? BK_EVIDENCE("lv_mass_men")
                                                                         : BK_EVIDENCE("lv_mass_women"));
    return a * pow(patient->height_cm.value / 100, 0.54) * pow(patient->weight_kg.value, 0.61);
}

static bk_mass spread(double value, double below, double above)
{
    return (bk_mass){value, fmax(0, value - below), value + above};
}

/* The daughters' shares of the vessel's grams; low and high are the share at the ends of what is not known. */
static void share(const bk_evidence *vessel, double value, double low, double high, bk_mass *out)
{
    const double half = bk_normal_quantile(0.5 + BK_LEVEL_PCT / 200.0) * vessel->sd / vessel->value;
    *out = spread(value * vessel->value, vessel->value * hypot(value * half, value - low),
                  vessel->value * hypot(value * half, high - value));
}

static void by_lengths(const bk_facts *facts, const bk_evidence *vessel, bk_territory *out)
{
    const bk_qty d = facts->limb[BK_DISTAL].vessel_length_mm.q, s = facts->limb[BK_SIDE].vessel_length_mm.q;
    if (!bk_has(d) || !bk_has(s) || d.value + s.value <= 0)
        return;
    const double side = s.value / (d.value + s.value);
    share(vessel, side, side, side, &out->grams[BK_TERRITORY_LENGTHS][BK_SIDE]);
    share(vessel, 1 - side, 1 - side, 1 - side, &out->grams[BK_TERRITORY_LENGTHS][BK_DISTAL]);
    out->known[BK_TERRITORY_LENGTHS] = true;
}

static double side_share(double ratio, double exponent)
{
    return pow(ratio, exponent) / (1 + pow(ratio, exponent));
}

static void by_diameters(const bk_facts *facts, const bk_evidence *vessel, const bk_evidence_set *evidence,
                         bk_territory *out)
{
    const bk_qty d = facts->limb[BK_DISTAL].reference_mm.q, s = facts->limb[BK_SIDE].reference_mm.q;
    const bk_evidence *split = bk_evidence_find(evidence, BK_EVIDENCE("flow_split"));
    if (!bk_has(d) || !bk_has(s))
        return;
    const double r = s.value / d.value, side = side_share(r, split->value);
    const double a = side_share(r, split->low), b = side_share(r, split->high);
    const double low = fmin(a, b), high = fmax(a, b);
    share(vessel, side, fmin(low, side), fmax(high, side), &out->grams[BK_TERRITORY_DIAMETERS][BK_SIDE]);
    share(vessel, 1 - side, fmin(1 - high, 1 - side), fmax(1 - low, 1 - side),
          &out->grams[BK_TERRITORY_DIAMETERS][BK_DISTAL]);
    out->known[BK_TERRITORY_DIAMETERS] = true;
}

static void by_vessel(int site, const bk_evidence_set *evidence, bk_territory *out)
{
    for (int k = BK_DISTAL; k < BK_LIMBS; k++)
        share(bk_evidence_find(evidence, bk_vessel_of(site, k).grams), 1, 1, 1, &out->grams[BK_TERRITORY_VESSEL][k]);
    out->known[BK_TERRITORY_VESSEL] = true;
}

static void by_site(const bk_evidence_set *evidence, bk_territory *out)
{
    const bk_evidence *row = bk_evidence_find(evidence, BK_EVIDENCE("territory_diagonal_pct"));
    const double half = bk_normal_quantile(0.5 + BK_LEVEL_PCT / 200.0) * row->sd;
    const bk_mass pct = spread(row->value, half, half);
    const double g = out->lv_grams / 100;
    out->percent[BK_TERRITORY_SITE][BK_SIDE] = pct;
    out->grams[BK_TERRITORY_SITE][BK_SIDE] = (bk_mass){pct.value * g, pct.low * g, pct.high * g};
    out->known[BK_TERRITORY_SITE] = true;
}

bk_territory bk_territory_of(const bk_facts *facts, const bk_patient *patient, int site,
                             const bk_evidence_set *evidence)
{
    bk_territory out = {.lv_grams = bk_lv_mass(patient, evidence)};
    const bk_mass nothing = {(double)NAN, (double)NAN, (double)NAN};
    const char *grams = bk_vessel_of(site, BK_SIDE).grams;
    for (int m = 0; m < BK_TERRITORY_METHODS; m++)
        for (int k = 0; k < BK_LIMBS; k++)
            out.grams[m][k] = out.percent[m][k] = nothing;
    if (site == BK_LEFT_MAIN) {
        by_vessel(site, evidence, &out);
    } else if (grams) {
        by_lengths(facts, bk_evidence_find(evidence, grams), &out);
        by_diameters(facts, bk_evidence_find(evidence, grams), evidence, &out);
    }
    const double f = 100 / out.lv_grams;
    for (int m = 0; m < BK_TERRITORY_METHODS; m++)
        for (int k = 0; k < BK_LIMBS; k++)
            out.percent[m][k] = (bk_mass){out.grams[m][k].value * f, out.grams[m][k].low * f, out.grams[m][k].high * f};
    if (site == BK_LAD_DIAGONAL)
        by_site(evidence, &out);
    return out;
}
