/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/flow/territory.h"

#include <math.h>

#include "core/flow/muscle.h"
#include "core/num.h"

const char *const bk_territory_method_names[BK_TERRITORY_METHODS] = {"lengths", "diameters", "vessel", "site"};

#define HALF bk_normal_quantile(0.5 + BK_LEVEL_PCT / 200.0) /* half an interval over its SD */

bk_lv bk_lv_mass(const bk_patient *patient, const bk_evidence_set *evidence)
{
    if (bk_has(patient->lv_mass_g))
        return (bk_lv){patient->lv_mass_g.value, isnan(patient->lv_mass_g.sd) ? 0 : patient->lv_mass_g.sd, true};
    if (!bk_has(patient->height_cm) || !bk_has(patient->weight_kg) || patient->sex == BK_SEX_NOT_SAID)
        return (bk_lv){(double)NAN, (double)NAN, false};
    const double a = bk_evidence_value(evidence, patient->sex == BK_MALE ? BK_EVIDENCE("lv_mass_men")
                                                                         : BK_EVIDENCE("lv_mass_women"));
    return (bk_lv){a * pow(patient->height_cm.value / 100, 0.54) * pow(patient->weight_kg.value, 0.61),
                   bk_evidence_value(evidence, BK_EVIDENCE("lv_mass_spread")), false};
}

static bk_mass times(bk_mass m, double factor)
{
    return (bk_mass){m.value * factor, m.low * factor, m.high * factor};
}

/* One factor of a product with its ends. */
typedef struct part {
    double value, low, high;
} part;

static part around(double value, double half)
{
    return (part){value, fmax(0, value - half), value + half};
}

/* Independent parts: their relative errors add as squares. Nothing is below 0. */
static bk_mass product(const part *parts, size_t n)
{
    double value = 1, below = 0, above = 0;
    for (size_t i = 0; i < n; i++) {
        value *= parts[i].value;
        below = hypot(below, 1 - parts[i].low / parts[i].value);
        above = hypot(above, parts[i].high / parts[i].value - 1);
    }
    return (bk_mass){value, value * fmax(0, 1 - below), value * (1 + above)};
}

typedef struct asked {
    const bk_facts *facts;
    const bk_patient *patient;
    const bk_evidence_set *evidence;
    const bk_vessel *vessel;
    bk_lv lv;
} asked;

/* Muscle of the vessel as a share of the left ventricle when that was entered, in grams otherwise. */
static part vessel_part(const bk_vessel *v, bk_lv lv)
{
    const double value = lv.entered ? v->share->value : v->grams->value;
    return around(value, HALF * value * v->grams->sd / v->grams->value);
}

static void put(const asked *q, part vessel, part behind, part daughter, int method, int limb, bk_territory *out)
{
    const part lv = {q->lv.grams, fmax(0, q->lv.grams - HALF * q->lv.sd), q->lv.grams + HALF * q->lv.sd};
    const part parts[4] = {vessel, behind, daughter, lv};
    if (q->lv.entered) { // the share is what is known, and the grams follow
        out->percent[method][limb] = product(parts, 3);
        out->grams[method][limb] = times(product(parts, 4), 0.01);
    } else {
        const part per_lv = {100 / lv.value, 100 / lv.high, lv.low > 0 ? 100 / lv.low : (double)INFINITY};
        const part all[4] = {vessel, behind, daughter, per_lv};
        out->grams[method][limb] = product(parts, 3);
        if (!isnan(lv.value))
            out->percent[method][limb] = product(all, 4);
    }
    out->known[method] = true;
}

/* How much of the vessel lies behind the bifurcation. Without a proximal reference: anything up to all of it. */
static part behind_part(const asked *q)
{
    const bk_qty proximal = q->facts->limb[BK_PROXIMAL].reference_mm.q;
    const bk_evidence *split = bk_evidence_find(q->evidence, BK_EVIDENCE("flow_split"));
    if (!bk_has(proximal))
        return (part){1, 0, 1};
    const double calibre = bk_calibre_mm(q->vessel, q->patient->sex, q->evidence);
    const double half = HALF * q->vessel->calibre->sd * calibre / q->vessel->calibre->value;
    return (part){bk_behind_share(proximal.value, calibre, split->value),
                  bk_behind_share(proximal.value, calibre + half, split->value),
                  bk_behind_share(proximal.value, calibre - half, split->value)};
}

static void divide(const asked *q, part side, int method, bk_territory *out)
{
    const part vessel = vessel_part(q->vessel, q->lv), behind = behind_part(q);
    const part distal = {1 - side.value, 1 - side.high, 1 - side.low};
    put(q, vessel, behind, side, method, BK_SIDE, out);
    put(q, vessel, behind, distal, method, BK_DISTAL, out);
}

static void by_lengths(const asked *q, bk_territory *out)
{
    const bk_qty d = q->facts->limb[BK_DISTAL].vessel_length_mm.q, s = q->facts->limb[BK_SIDE].vessel_length_mm.q;
    if (!bk_has(d) || !bk_has(s) || d.value + s.value <= 0)
        return;
    const double side = s.value / (d.value + s.value);
    divide(q, (part){side, side, side}, BK_TERRITORY_LENGTHS, out);
}

static double side_share(double ratio, double exponent)
{
    return pow(ratio, exponent) / (1 + pow(ratio, exponent));
}

static void by_diameters(const asked *q, bk_territory *out)
{
    const bk_qty d = q->facts->limb[BK_DISTAL].reference_mm.q, s = q->facts->limb[BK_SIDE].reference_mm.q;
    const bk_evidence *split = bk_evidence_find(q->evidence, BK_EVIDENCE("flow_split"));
    if (!bk_has(d) || !bk_has(s))
        return;
    const double r = s.value / d.value, side = side_share(r, split->value);
    const double a = side_share(r, split->low), b = side_share(r, split->high);
    divide(q, (part){side, fmin(side, fmin(a, b)), fmax(side, fmax(a, b))}, BK_TERRITORY_DIAMETERS, out);
}

static void by_vessel(const asked *q, bk_territory *out)
{
    const part all = {1, 1, 1};
    for (int k = BK_DISTAL; k < BK_LIMBS; k++) {
        const bk_vessel v = bk_vessel_of(BK_LEFT_MAIN, k, q->facts->dominance, q->evidence);
        put(q, vessel_part(&v, q->lv), all, all, BK_TERRITORY_VESSEL, k, out);
    }
}

static void by_site(const asked *q, bk_territory *out)
{
    const bk_evidence *row = bk_evidence_find(q->evidence, BK_EVIDENCE("territory_diagonal_pct"));
    const part pct = around(row->value, HALF * row->sd);
    const part parts[2] = {pct, around(q->lv.grams, HALF * q->lv.sd)};
    out->percent[BK_TERRITORY_SITE][BK_SIDE] = product(parts, 1);
    if (!isnan(q->lv.grams))
        out->grams[BK_TERRITORY_SITE][BK_SIDE] = times(product(parts, 2), 0.01);
    out->known[BK_TERRITORY_SITE] = true;
}

bk_territory bk_territory_of(const bk_facts *facts, const bk_patient *patient, int site,
                             const bk_evidence_set *evidence)
{
    const bk_vessel vessel = bk_vessel_of(site, BK_SIDE, facts->dominance, evidence);
    const asked q = {facts, patient, evidence, &vessel, bk_lv_mass(patient, evidence)};
    bk_territory out = {.lv = q.lv};
    const bk_mass nothing = {(double)NAN, (double)NAN, (double)NAN};
    for (int m = 0; m < BK_TERRITORY_METHODS; m++)
        for (int k = 0; k < BK_LIMBS; k++)
            out.grams[m][k] = out.percent[m][k] = nothing;
    if (site == BK_LEFT_MAIN) {
        by_vessel(&q, &out);
    } else if (vessel.grams) {
        by_lengths(&q, &out);
        by_diameters(&q, &out);
    }
    if (site == BK_LAD_DIAGONAL)
        by_site(&q, &out);
    return out;
}
