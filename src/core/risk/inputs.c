/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/risk/inputs.h"

#include <math.h>

#include "core/flow/territory.h"
#include "core/num.h"
#include "core/risk/resolve.h"

#define RAD (3.14159265358979323846 / 180)

const char *const bk_risk_input_paths[BK_RISK_INPUTS] = {
    "anatomy.segments.proximal.reference_mm",   "anatomy.segments.distal.reference_mm",
    "anatomy.segments.side.reference_mm",       "anatomy.segments.proximal.stenosis_pct",
    "anatomy.segments.distal.stenosis_pct",     "anatomy.core_stenosis_pct",
    "anatomy.segments.side.stenosis_pct",       "anatomy.segments.proximal.lesion_length_mm",
    "anatomy.segments.distal.lesion_length_mm", "anatomy.segments.side.lesion_length_mm",
    "anatomy.segments.side.vessel_length_mm",   "territory.side.mass_pct",
    "anatomy.angles.distal_side_deg",           "anatomy.angles.proximal_side_deg",
};
const char *const bk_risk_input_units[BK_RISK_INPUTS] = {"mm", "mm", "mm", "%",  "%",   "%",  "%",
                                                         "mm", "mm", "mm", "mm", "%",  "deg", "deg"};

const char *const bk_risk_quantity_words[BK_RISK_QUANTITIES] = {
    [BK_Q_SIDE_REFERENCE] = "side branch reference",
    [BK_Q_MAIN_REFERENCE] = "main vessel reference, mean of proximal and distal,",
    [BK_Q_DIAMETER_RATIO] = "main to side reference",
    [BK_Q_SIDE_OVER_DISTAL] = "side branch to distal main reference",
    [BK_Q_PROXIMAL_STENOSIS] = "proximal main stenosis",
    [BK_Q_DISTAL_STENOSIS] = "distal main stenosis",
    [BK_Q_CORE_STENOSIS] = "stenosis of the core",
    [BK_Q_SIDE_STENOSIS] = "side branch stenosis",
    [BK_Q_MAIN_STENOSIS] = "main vessel stenosis at the bifurcation",
    [BK_Q_BOTH_STENOSES] = "main vessel at the bifurcation and side branch both narrowed by",
    [BK_Q_TRUE_STENOSES] = "true bifurcation: a main limb and the side branch both narrowed by",
    [BK_Q_ANY_STENOSIS] = "main vessel at the bifurcation or side branch narrowed by",
    [BK_Q_LARGEST_LIMB] = "tightest limb",
    [BK_Q_SECOND_LIMB] = "second tightest limb",
    [BK_Q_SIDE_LESION] = "side branch lesion",
    [BK_Q_MAIN_LESION] = "main vessel lesion, proximal and distal added,",
    [BK_Q_SIDE_VESSEL] = "length of the side branch",
    [BK_Q_SIDE_MASS] = "share of the left ventricular mass behind the side branch",
    [BK_Q_DISTAL_SIDE_ANGLE] = "angle between distal main vessel and side branch",
    [BK_Q_PROXIMAL_SIDE_ANGLE] = "angle between proximal main vessel and side branch",
    [BK_Q_PARENT_SIDE_ANGLE] = "turn from the parent's axis into the side branch",
    [BK_Q_COSINE_STENOSIS] = "ostial stenosis predicted by the angle",
};
const char *const bk_risk_quantity_units[BK_RISK_QUANTITIES] = {
    "mm", "mm", "", "", "%", "%", "%", "%", "%", "%", "%", "%", "%", "%", "mm", "mm", "mm", "%", "deg", "deg", "deg", "%"};
const char *const bk_risk_fact_words[BK_RISK_FACTS] = {
    [BK_FACT_NEVER_ASKED] = "",
    [BK_FACT_ACS] = "acute coronary syndrome",
    [BK_FACT_STEMI] = "ST-elevation infarction",
    [BK_FACT_PLAQUE_SAME] = "main vessel plaque on the side of the branch",
    [BK_FACT_MAIN_FLOW_LOW] = "main vessel flow below TIMI 3",
    [BK_FACT_CALCIFIED] = "calcified",
    [BK_FACT_CALCIUM_MODERATE] = "moderate or severe calcium",
    [BK_FACT_THROMBUS] = "thrombus",
    [BK_FACT_PLAQUE_MAY_SHIFT] = "plaque likely to move: thrombus grade 2 and more, or ulcerated",
    [BK_FACT_NOT_LAD] = "culprit outside the LAD",
    [BK_FACT_MULTIPLE_LESIONS] = "multiple lesions",
    [BK_FACT_ACCESS_DIFFICULT] = "access to the side branch difficult",
    [BK_FACT_RESOLVE_HIGH] = "12 points and more of the RESOLVE score",
};

const bk_fact *bk_risk_input_fact(const bk_facts *facts, bk_risk_input input)
{
    static const bk_fact none = {{(double)NAN, (double)NAN, BK_ORIGIN_ABSENT}, BK_FROM_NOWHERE};
    const bk_limb_facts *proximal = &facts->limb[BK_PROXIMAL], *distal = &facts->limb[BK_DISTAL],
                        *side = &facts->limb[BK_SIDE];
    const bk_fact *of[BK_RISK_INPUTS] = {
        &proximal->reference_mm,   &distal->reference_mm,       &side->reference_mm,
        &proximal->stenosis_pct,   &distal->stenosis_pct,       &facts->core_stenosis_pct,
        &side->stenosis_pct,       &proximal->lesion_length_mm, &distal->lesion_length_mm,
        &side->lesion_length_mm,   &side->vessel_length_mm,     &none,
        &facts->distal_side_deg,   &facts->proximal_side_deg,
    };
    return of[input];
}

static bk_tri tri(bool known, bool is)
{
    return !known ? BK_UNKNOWN : is ? BK_YES : BK_NO;
}

/* Of two signs, one is enough; none of them only when both are known to be absent. */
static bk_tri either(bk_tri a, bk_tri b)
{
    if (a == BK_YES || b == BK_YES)
        return BK_YES;
    return a == BK_NO && b == BK_NO ? BK_NO : BK_UNKNOWN;
}

/* Shock and arrest do not say by themselves what they came from. */
static bk_tri acute(int presentation)
{
    return tri(presentation >= BK_CHRONIC && presentation <= BK_STEMI, presentation >= BK_UNSTABLE);
}

static int main_timi(const bk_facts *facts)
{
    const int distal = facts->limb[BK_DISTAL].timi;
    return distal != BK_INTEGER_ABSENT ? distal : facts->limb[BK_PROXIMAL].timi;
}

/* The first method, in the order of the territory's own, that knows the percentage. */
static bk_fact side_mass(const bk_case *c, const bk_facts *facts, const bk_evidence_set *evidence)
{
    const bk_territory t = bk_territory_of(facts, &c->patient, c->anatomy.site, evidence);
    for (int m = 0; m < BK_TERRITORY_METHODS; m++) {
        const bk_mass pct = t.percent[m][BK_SIDE];
        if (!isnan(pct.value))
            return (bk_fact){bk_qty_of(pct.value, (pct.high - pct.value) / bk_normal_quantile(0.5 + BK_LEVEL_PCT / 200.0),
                                       BK_DERIVED),
                             BK_FROM_OTHERS};
    }
    return (bk_fact){bk_qty_absent(), BK_FROM_NOWHERE};
}

/* The SD of a stenosis that was given together with both diameters says how far their errors go together:
   var(100 (1 - m/r)) = a^2 + b^2 - 2 share a b, a and b being what each diameter brings in alone. */
static bk_stenosis_parts parts_of(const bk_limb_facts *limb)
{
    const bk_fact mld = limb->mld_mm, reference = limb->reference_mm, stenosis = limb->stenosis_pct;
    bk_stenosis_parts out = {.mld = mld.q};
    const bool built = stenosis.from == BK_FROM_OTHERS && stenosis.q.origin == BK_DERIVED;
    const bool together = stenosis.from != BK_FROM_NOWHERE && stenosis.from == mld.from && stenosis.from == reference.from;
    if ((!built && !together) || !bk_has(mld.q) || !bk_has(reference.q) || mld.q.value <= 0)
        return out;
    const double a = 100 / reference.q.value * bk_fact_sd(mld.q, (double)NAN);
    const double b = 100 * mld.q.value / (reference.q.value * reference.q.value) * bk_fact_sd(reference.q, (double)NAN);
    const double sd = bk_fact_sd(stenosis.q, (double)NAN);
    if (isnan(a) || isnan(b) || isnan(sd))
        return out;
    out.share = built || a * b <= 0 ? 0 : (a * a + b * b - sd * sd) / (2 * a * b);
    out.known = fabs(out.share) <= 1; // SDs that no correlation explains: the stenosis stands by itself
    return out;
}

bk_risk_inputs bk_risk_inputs_of(const bk_case *c, const bk_facts *facts, const bk_evidence_set *evidence)
{
    const bk_anatomy_input *a = &c->anatomy;
    bk_risk_inputs out = {.scale_sd_pct = facts->scale_sd_pct,
                          .site = a->site,
                          .context = a->context,
                          .presentation = c->patient.presentation,
                          .strategy = c->decision.strategy,
                          .trifurcation = a->extra_limb ? BK_YES : BK_NO,
                          .side_occluded =
                              facts->limb[BK_SIDE].timi == 0 ? BK_YES : facts->limb[BK_SIDE].occluded};
    for (int i = 0; i < BK_RISK_INPUTS; i++)
        out.fact[i] = *bk_risk_input_fact(facts, (bk_risk_input)i);
    out.fact[BK_IN_SIDE_MASS] = side_mass(c, facts, evidence);
    for (int limb = 0; limb < BK_LIMBS; limb++)
        out.parts[limb] = parts_of(&facts->limb[limb]);
    for (int limb = 0; limb < BK_LIMBS; limb++)
        if (facts->limb[limb].no_lesion)
            out.fact[BK_IN_PROXIMAL_LESION + limb] = (bk_fact){bk_qty_of(0, 0, BK_DERIVED), BK_FROM_OTHERS};
    const double thrombus = bk_evidence_value(evidence, BK_EVIDENCE("thrombus_grade_line"));
    out.known[BK_FACT_ACS] = acute(out.presentation);
    out.known[BK_FACT_STEMI] =
        tri(out.presentation != BK_PRESENTATION_NOT_SAID && out.presentation < BK_SHOCK,
            out.presentation == BK_STEMI);
    out.known[BK_FACT_PLAQUE_SAME] =
        tri(a->plaque_side != BK_PLAQUE_UNKNOWN,
            a->plaque_side == BK_PLAQUE_SAME || a->plaque_side == BK_PLAQUE_BOTH);
    out.known[BK_FACT_MAIN_FLOW_LOW] = tri(main_timi(facts) != BK_INTEGER_ABSENT, main_timi(facts) < 3);
    out.known[BK_FACT_CALCIFIED] = tri(a->calcium != BK_CALCIUM_UNKNOWN, a->calcium > BK_CALCIUM_NONE);
    out.known[BK_FACT_CALCIUM_MODERATE] =
        tri(a->calcium != BK_CALCIUM_UNKNOWN, a->calcium >= BK_CALCIUM_MODERATE);
    out.known[BK_FACT_THROMBUS] = tri(a->thrombus_grade != BK_INTEGER_ABSENT, a->thrombus_grade >= thrombus);
    out.known[BK_FACT_PLAQUE_MAY_SHIFT] = either(out.known[BK_FACT_THROMBUS], a->ulcerated);
    out.known[BK_FACT_MULTIPLE_LESIONS] = a->multiple_lesions;
    out.known[BK_FACT_ACCESS_DIFFICULT] = a->side_access_difficult;
    out.known[BK_FACT_NOT_LAD] =
        tri(a->site == BK_LAD_DIAGONAL || a->site == BK_LCX_MARGINAL || a->site == BK_RCA_CRUX,
            a->site != BK_LAD_DIAGONAL);
    const bk_resolve_score score = bk_resolve_score_of(&out, main_timi(facts), evidence);
    out.known[BK_FACT_RESOLVE_HIGH] = score.high;
    out.resolve_entered = score.entered;
    out.resolve_low = score.points.low;
    out.resolve_high = score.points.high;
    return out;
}

/* ---- spans ---- */

static bool is_length(int input)
{
    return input >= BK_IN_PROXIMAL_LESION && input <= BK_IN_SIDE_VESSEL;
}
static bool is_angle(int input)
{
    return input >= BK_IN_DISTAL_SIDE_ANGLE;
}
static bool is_percent(int input)
{
    return (input >= BK_IN_PROXIMAL_STENOSIS && input <= BK_IN_SIDE_STENOSIS) || input == BK_IN_SIDE_MASS;
}

void bk_risk_spans(const bk_risk_inputs *inputs, bk_span out[BK_RISK_INPUTS])
{
    for (int i = 0; i < BK_RISK_INPUTS; i++) {
        const bk_qty q = inputs->fact[i].q;
        const bool projected = q.origin == BK_PROJECTED;
        const double top = is_percent(i) ? 100 : is_angle(i) ? 180 : (double)INFINITY;
        if (!bk_has(q) || (projected && is_angle(i)))
            out[i] = (bk_span){0, top};
        else
            out[i] = (bk_span){q.value, projected && is_length(i) ? (double)INFINITY : q.value};
    }
}

static bk_span larger(bk_span a, bk_span b)
{
    return (bk_span){fmax(a.low, b.low), fmax(a.high, b.high)};
}
static bk_span smaller(bk_span a, bk_span b)
{
    return (bk_span){fmin(a.low, b.low), fmin(a.high, b.high)};
}
static bk_span over(bk_span a, bk_span b)
{
    return (bk_span){isinf(b.high) ? 0 : a.low / b.high,
                     isinf(a.high) || b.low <= 0 ? (double)INFINITY : a.high / b.low};
}
static double cosine_stenosis(double turn_deg)
{
    return turn_deg >= 90 ? 0 : 100 * cos(turn_deg * RAD);
}

bk_span bk_risk_quantity_of(bk_risk_quantity quantity, const bk_span in[BK_RISK_INPUTS])
{
    const bk_span proximal = in[BK_IN_PROXIMAL_REFERENCE], distal = in[BK_IN_DISTAL_REFERENCE];
    const bk_span mean = {(proximal.low + distal.low) / 2, (proximal.high + distal.high) / 2};
    const bk_span limbs = larger(in[BK_IN_PROXIMAL_STENOSIS], in[BK_IN_DISTAL_STENOSIS]);
    const bk_span main = larger(limbs, in[BK_IN_CORE_STENOSIS]);
    const bk_span p_length = in[BK_IN_PROXIMAL_LESION], d_length = in[BK_IN_DISTAL_LESION];
    const bk_span turn = {180 - in[BK_IN_PROXIMAL_SIDE_ANGLE].high, 180 - in[BK_IN_PROXIMAL_SIDE_ANGLE].low};
    switch (quantity) {
    case BK_Q_SIDE_REFERENCE:
        return in[BK_IN_SIDE_REFERENCE];
    case BK_Q_MAIN_REFERENCE:
        return mean;
    case BK_Q_DIAMETER_RATIO:
        return over(mean, in[BK_IN_SIDE_REFERENCE]);
    case BK_Q_SIDE_OVER_DISTAL:
        return over(in[BK_IN_SIDE_REFERENCE], distal);
    case BK_Q_PROXIMAL_STENOSIS:
        return in[BK_IN_PROXIMAL_STENOSIS];
    case BK_Q_DISTAL_STENOSIS:
        return in[BK_IN_DISTAL_STENOSIS];
    case BK_Q_CORE_STENOSIS:
        return in[BK_IN_CORE_STENOSIS];
    case BK_Q_SIDE_STENOSIS:
        return in[BK_IN_SIDE_STENOSIS];
    case BK_Q_MAIN_STENOSIS:
        return main;
    case BK_Q_BOTH_STENOSES:
        return smaller(main, in[BK_IN_SIDE_STENOSIS]);
    case BK_Q_TRUE_STENOSES:
        return smaller(limbs, in[BK_IN_SIDE_STENOSIS]);
    case BK_Q_ANY_STENOSIS:
        return larger(main, in[BK_IN_SIDE_STENOSIS]);
    case BK_Q_LARGEST_LIMB:
        return larger(limbs, in[BK_IN_SIDE_STENOSIS]);
    case BK_Q_SECOND_LIMB: /* of three: the larger of the smaller two */
        return larger(smaller(in[BK_IN_PROXIMAL_STENOSIS], in[BK_IN_DISTAL_STENOSIS]),
                      smaller(limbs, in[BK_IN_SIDE_STENOSIS]));
    case BK_Q_SIDE_LESION:
        return in[BK_IN_SIDE_LESION];
    case BK_Q_MAIN_LESION:
        return (bk_span){p_length.low + d_length.low, p_length.high + d_length.high};
    case BK_Q_SIDE_VESSEL:
        return in[BK_IN_SIDE_VESSEL];
    case BK_Q_SIDE_MASS:
        return in[BK_IN_SIDE_MASS];
    case BK_Q_DISTAL_SIDE_ANGLE:
        return in[BK_IN_DISTAL_SIDE_ANGLE];
    case BK_Q_PROXIMAL_SIDE_ANGLE:
        return in[BK_IN_PROXIMAL_SIDE_ANGLE];
    case BK_Q_PARENT_SIDE_ANGLE:
        return turn;
    case BK_Q_COSINE_STENOSIS:
    case BK_RISK_QUANTITIES:
        break;
    }
    return (bk_span){cosine_stenosis(turn.high), cosine_stenosis(turn.low)};
}

#define BIT(input) (1u << (input))
#define MAIN_LIMBS (BIT(BK_IN_PROXIMAL_STENOSIS) | BIT(BK_IN_DISTAL_STENOSIS))
#define MAIN_BITS (MAIN_LIMBS | BIT(BK_IN_CORE_STENOSIS))
#define REFERENCES (BIT(BK_IN_PROXIMAL_REFERENCE) | BIT(BK_IN_DISTAL_REFERENCE))

unsigned bk_risk_quantity_inputs(bk_risk_quantity quantity)
{
    static const unsigned bits[BK_RISK_QUANTITIES] = {
        [BK_Q_SIDE_REFERENCE] = BIT(BK_IN_SIDE_REFERENCE),
        [BK_Q_MAIN_REFERENCE] = REFERENCES,
        [BK_Q_DIAMETER_RATIO] = REFERENCES | BIT(BK_IN_SIDE_REFERENCE),
        [BK_Q_SIDE_OVER_DISTAL] = BIT(BK_IN_SIDE_REFERENCE) | BIT(BK_IN_DISTAL_REFERENCE),
        [BK_Q_PROXIMAL_STENOSIS] = BIT(BK_IN_PROXIMAL_STENOSIS),
        [BK_Q_DISTAL_STENOSIS] = BIT(BK_IN_DISTAL_STENOSIS),
        [BK_Q_CORE_STENOSIS] = BIT(BK_IN_CORE_STENOSIS),
        [BK_Q_SIDE_STENOSIS] = BIT(BK_IN_SIDE_STENOSIS),
        [BK_Q_MAIN_STENOSIS] = MAIN_BITS,
        [BK_Q_BOTH_STENOSES] = MAIN_BITS | BIT(BK_IN_SIDE_STENOSIS),
        [BK_Q_TRUE_STENOSES] = MAIN_LIMBS | BIT(BK_IN_SIDE_STENOSIS),
        [BK_Q_ANY_STENOSIS] = MAIN_BITS | BIT(BK_IN_SIDE_STENOSIS),
        [BK_Q_LARGEST_LIMB] = MAIN_LIMBS | BIT(BK_IN_SIDE_STENOSIS),
        [BK_Q_SECOND_LIMB] = MAIN_LIMBS | BIT(BK_IN_SIDE_STENOSIS),
        [BK_Q_SIDE_LESION] = BIT(BK_IN_SIDE_LESION),
        [BK_Q_MAIN_LESION] = BIT(BK_IN_PROXIMAL_LESION) | BIT(BK_IN_DISTAL_LESION),
        [BK_Q_SIDE_VESSEL] = BIT(BK_IN_SIDE_VESSEL),
        [BK_Q_SIDE_MASS] = BIT(BK_IN_SIDE_MASS),
        [BK_Q_DISTAL_SIDE_ANGLE] = BIT(BK_IN_DISTAL_SIDE_ANGLE),
        [BK_Q_PROXIMAL_SIDE_ANGLE] = BIT(BK_IN_PROXIMAL_SIDE_ANGLE),
        [BK_Q_PARENT_SIDE_ANGLE] = BIT(BK_IN_PROXIMAL_SIDE_ANGLE),
        [BK_Q_COSINE_STENOSIS] = BIT(BK_IN_PROXIMAL_SIDE_ANGLE),
    };
    return bits[quantity];
}
