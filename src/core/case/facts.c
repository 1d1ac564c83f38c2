/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/case/facts.h"

#include <math.h>
#include <string.h>

#include "core/anatomy/lesion.h"

bool bk_measured_before(const bk_measured *measured, size_t a, size_t b)
{
    const char *at = measured[a].acquired_at, *other = measured[b].acquired_at;
    const int order = at[0] && other[0] ? strcmp(at, other) : 0;
    return order ? order < 0 : a < b;
}

ptrdiff_t bk_facts_newest_baseline(const bk_measured *measured, size_t n)
{
    ptrdiff_t best = -1;
    for (size_t i = 0; i < n; i++)
        if (measured[i].stage == BK_STAGE_BASELINE && (best < 0 || !bk_measured_before(measured, i, (size_t)best)))
            best = (ptrdiff_t)i;
    return best;
}

double bk_fact_sd(bk_qty q, double scale_sd_pct)
{
    if (q.origin == BK_ENTERED && isnan(q.sd))
        return 0;
    if (q.origin != BK_MEASURED && q.origin != BK_PROJECTED)
        return q.sd;
    return isnan(scale_sd_pct) ? q.sd : hypot(q.sd, q.value * scale_sd_pct / 100);
}

/* ---- one limb from its three possible sources ---- */

typedef struct limb_sources {
    const bk_limb_input *entered;
    const bk_solid_limb *solid;       /* NULL: none */
    const bk_measured_limb *measured; /* NULL: none */
    double visual_sd_pct, solid_length_sd_mm;
} limb_sources;

static bk_fact first_of(bk_qty entered, bk_qty solid, bk_qty measured)
{
    if (bk_has(entered))
        return (bk_fact){entered, BK_FROM_ANATOMY};
    if (bk_has(solid))
        return (bk_fact){solid, BK_FROM_SOLID};
    if (bk_has(measured))
        return (bk_fact){measured, BK_FROM_MEASUREMENT};
    return (bk_fact){bk_qty_absent(), BK_FROM_NOWHERE};
}

static bool by_eye(bk_qty q)
{
    return q.origin == BK_VISUAL && isnan(q.sd);
}

/* The scale is common to both diameters and cancels, so plain SDs are used here. */
static bk_qty build_stenosis(bk_qty mld, bk_qty reference, double visual_sd_pct)
{
    const double ratio = mld.value / reference.value;
    const double value = 100 * (1 - ratio);
    const double sd = 100 / reference.value *
                      hypot(bk_fact_sd(mld, (double)NAN), ratio * bk_fact_sd(reference, (double)NAN));
    const bool visual = by_eye(mld) || by_eye(reference);
    const double inside = value < 0 ? 0 : value;
    return bk_qty_of(inside, visual ? visual_sd_pct : sd, visual ? BK_VISUAL : BK_DERIVED);
}

static bk_qty build_mld(bk_qty stenosis, bk_qty reference)
{
    const double open = 1 - stenosis.value / 100;
    const double sd = hypot(open * bk_fact_sd(reference, (double)NAN),
                            reference.value / 100 * bk_fact_sd(stenosis, (double)NAN));
    return bk_qty_of(reference.value * open, sd, BK_DERIVED);
}

/* The lumen as one source has it; false when it says nothing of it. */
static bool lumen_of(const limb_sources *s, bk_from from, bk_qty *mld, bk_qty *stenosis)
{
    *mld = *stenosis = bk_qty_absent();
    if (from == BK_FROM_ANATOMY) {
        *mld = s->entered->mld_mm;
        *stenosis = s->entered->stenosis_pct;
    } else if (from == BK_FROM_SOLID && s->solid) {
        *mld = s->solid->mld_mm;
        *stenosis = s->solid->stenosis_pct;
    } else if (from == BK_FROM_MEASUREMENT && s->measured) {
        *mld = s->measured->mld_mm;
        *stenosis = s->measured->stenosis_pct;
    }
    return bk_has(*mld) || bk_has(*stenosis);
}

static void resolve_lumen(const limb_sources *s, bk_limb_facts *out)
{
    bk_qty mld, stenosis;
    bk_from from = BK_FROM_ANATOMY;
    if (s->entered->occluded == BK_YES && !lumen_of(s, from, &mld, &stenosis)) {
        out->mld_mm = (bk_fact){bk_qty_of(0, 0, BK_DERIVED), BK_FROM_ANATOMY};
        out->stenosis_pct = (bk_fact){bk_qty_of(100, 0, BK_DERIVED), BK_FROM_ANATOMY};
        return;
    }
    while (!lumen_of(s, from, &mld, &stenosis))
        if (++from > BK_FROM_MEASUREMENT)
            return;
    const bk_fact reference = out->reference_mm;
    // a stenosis found together with its reference is better than one rebuilt: their errors go together
    const bool rebuild = bk_has(mld) && (!bk_has(stenosis) || reference.from != from);
    if (rebuild)
        stenosis = bk_has(reference.q) ? build_stenosis(mld, reference.q, s->visual_sd_pct) : bk_qty_absent();
    else if (by_eye(stenosis))
        stenosis.sd = s->visual_sd_pct;
    if (bk_has(stenosis))
        out->stenosis_pct = (bk_fact){stenosis, rebuild ? BK_FROM_OTHERS : from};
    if (bk_has(mld))
        out->mld_mm = (bk_fact){mld, from};
    else if (bk_has(stenosis) && bk_has(reference.q))
        out->mld_mm = (bk_fact){build_mld(stenosis, reference.q), BK_FROM_OTHERS};
}

/* Where no end is written down, half the lesion lies behind its narrowest place. */
static double measured_end(const bk_measured_limb *limb)
{
    return isnan(limb->lesion_to_mm) ? limb->mld_position_mm + limb->lesion_length_mm.value / 2
                                     : limb->lesion_to_mm;
}

static void resolve_lesion(const limb_sources *s, bk_limb_facts *out)
{
    bk_qty in_space = bk_qty_absent();
    double end_mm = (double)NAN;
    bool none_in_space = false;
    if (s->solid && bk_has(s->solid->lesion_length_mm)) {
        in_space = s->solid->lesion_length_mm;
    } else if (s->solid && s->solid->position_mm.n > 0 && bk_has(s->solid->reference_mm)) {
        const bk_lesion_curve curve = {.position_mm = BK_ITEMS(s->solid->position_mm, double),
                                       .diameter_mm = BK_ITEMS(s->solid->diameter_mm, double),
                                       .whole_reference_mm = s->solid->reference_mm.value,
                                       .n = s->solid->position_mm.n};
        const bk_lesion_extent extent = bk_lesion_find(&curve);
        none_in_space = !extent.found;
        end_mm = extent.to_mm;
        in_space = bk_qty_of(extent.to_mm - extent.from_mm, s->solid_length_sd_mm, BK_MEASURED);
    }
    out->lesion_length_mm =
        first_of(s->entered->lesion_length_mm, none_in_space ? bk_qty_absent() : in_space,
                 s->measured && !none_in_space ? s->measured->lesion_length_mm : bk_qty_absent());
    if (out->lesion_length_mm.from == BK_FROM_SOLID)
        out->lesion_end_mm = end_mm;
    else if (out->lesion_length_mm.from == BK_FROM_MEASUREMENT)
        out->lesion_end_mm = measured_end(s->measured);
    // where the lumen was entered by hand, a lesion that no picture showed is not known to be absent
    const bool lumen_seen = out->mld_mm.from == BK_FROM_SOLID || out->mld_mm.from == BK_FROM_MEASUREMENT;
    const bool none_measured = s->measured && bk_has(s->measured->mld_mm);
    out->no_lesion =
        out->lesion_length_mm.from == BK_FROM_NOWHERE && lumen_seen && (none_in_space || none_measured);
}

/* The curve of the source that the narrowest lumen is taken from. */
static bk_limb_curve curve_of(const limb_sources *s, bk_from from)
{
    bk_limb_curve out = {0};
    if (from == BK_FROM_SOLID) {
        out = (bk_limb_curve){BK_ITEMS(s->solid->position_mm, double), BK_ITEMS(s->solid->diameter_mm, double), NULL,
                              s->solid->position_mm.n};
        if (s->solid->diameter_mm.n != out.n)
            out.n = 0;
    } else if (from == BK_FROM_MEASUREMENT) {
        const bk_measured_profile *p = &s->measured->profile;
        out = (bk_limb_curve){BK_ITEMS(p->position_mm, double), BK_ITEMS(p->diameter_mm, double),
                              BK_ITEMS(p->reference_mm, double), p->diameter_mm.n};
        if (p->position_mm.n != out.n || p->reference_mm.n != out.n)
            out.n = 0;
    }
    for (size_t i = 1; i < out.n; i++)
        if (!(out.position_mm[i] > out.position_mm[i - 1]))
            return (bk_limb_curve){0};
    return out;
}

static void resolve_occlusion(const limb_sources *s, bk_limb_facts *out)
{
    out->occluded = s->entered->occluded;
    if (out->occluded == BK_UNKNOWN && bk_has(out->stenosis_pct.q))
        out->occluded = out->stenosis_pct.q.value >= 100 ? BK_YES : BK_NO;
    else if (out->occluded == BK_UNKNOWN && bk_has(out->mld_mm.q))
        out->occluded = out->mld_mm.q.value <= 0 ? BK_YES : BK_NO;
    if (out->occluded == BK_UNKNOWN && s->measured)
        out->occluded = s->measured->occluded;
}

static bk_limb_facts resolve_limb(const limb_sources *s)
{
    const bk_qty absent = bk_qty_absent();
    const bk_fact nowhere = {absent, BK_FROM_NOWHERE};
    bk_limb_facts out = {.mld_mm = nowhere, .stenosis_pct = nowhere, .lesion_end_mm = (double)NAN};
    out.reference_mm = first_of(s->entered->reference_mm, s->solid ? s->solid->reference_mm : absent,
                                s->measured ? s->measured->reference_mm : absent);
    out.length_mm = first_of(s->entered->length_mm, s->solid ? s->solid->length_mm : absent,
                             s->measured ? s->measured->length_mm : absent);
    out.vessel_length_mm = first_of(s->entered->vessel_length_mm, absent, absent);
    out.timi = s->entered->timi;
    out.stent_layers = s->entered->stent_layers;
    out.wedge_mmhg = s->entered->wedge_mmhg;
    resolve_lumen(s, &out);
    resolve_lesion(s, &out);
    out.curve = curve_of(s, out.mld_mm.from);
    resolve_occlusion(s, &out);
    return out;
}

/* ---- the whole ---- */

static const bk_limb_input *entered_limb(const bk_segments_input *s, int limb)
{
    return limb == BK_PROXIMAL ? &s->proximal : limb == BK_DISTAL ? &s->distal : &s->side;
}
static const bk_solid_limb *solid_limb(const bk_solid *solid, int limb)
{
    if (!solid)
        return NULL;
    const bk_solid_segments *s = &solid->segments;
    return limb == BK_PROXIMAL ? &s->proximal : limb == BK_DISTAL ? &s->distal : &s->side;
}
static const bk_measured_limb *measured_limb(const bk_measured *measured, int limb)
{
    if (!measured)
        return NULL;
    const bk_measured_segments *s = &measured->segments;
    return limb == BK_PROXIMAL ? &s->proximal : limb == BK_DISTAL ? &s->distal : &s->side;
}

/* Three directions in a plane make up a full turn. Out of the plane the third angle is smaller than that, so one that
   would be wider than straight is not said. */
static bk_fact third_angle(bk_qty a, bk_qty b)
{
    const double rest = 360 - a.value - b.value;
    if (!bk_has(a) || !bk_has(b) || rest > 180)
        return (bk_fact){bk_qty_absent(), BK_FROM_NOWHERE};
    return (bk_fact){bk_qty_of(rest, hypot(a.sd, b.sd), BK_DERIVED), BK_FROM_OTHERS};
}

bk_facts bk_facts_resolve(const bk_facts_input *in)
{
    const bk_qty absent = bk_qty_absent();
    bk_facts out = {.measurement = bk_facts_newest_baseline(in->measured, in->measured_n)};
    const bk_measured *measured = out.measurement < 0 ? NULL : &in->measured[out.measurement];
    for (int limb = 0; limb < BK_LIMBS; limb++) {
        const limb_sources sources = {entered_limb(&in->anatomy->segments, limb), solid_limb(in->solid, limb),
                                      measured_limb(measured, limb), in->visual_stenosis_sd_pct,
                                      in->solid_length_sd_mm};
        out.limb[limb] = resolve_limb(&sources);
    }
    out.core_stenosis_pct =
        first_of(in->anatomy->core_stenosis_pct, absent, measured ? measured->core.stenosis_pct : absent);
    if (by_eye(out.core_stenosis_pct.q))
        out.core_stenosis_pct.q.sd = in->visual_stenosis_sd_pct;
    out.distal_side_deg =
        first_of(in->anatomy->angles.distal_side_deg, in->solid ? in->solid->angles.distal_side_deg : absent,
                 measured ? measured->angles.distal_side_deg : absent);
    out.proximal_side_deg = first_of(in->anatomy->angles.proximal_side_deg,
                                     in->solid ? in->solid->angles.proximal_side_deg : absent,
                                     measured ? measured->angles.proximal_side_deg : absent);
    out.proximal_distal_deg = first_of(in->anatomy->angles.proximal_distal_deg,
                                       in->solid ? in->solid->angles.proximal_distal_deg : absent,
                                       measured ? measured->angles.proximal_distal_deg : absent);
    if (!bk_has(out.proximal_distal_deg.q))
        out.proximal_distal_deg = third_angle(out.proximal_side_deg.q, out.distal_side_deg.q);
    out.dominance = in->anatomy->dominance;
    const double entered_scale = in->anatomy->calibration_sd_pct;
    out.scale_sd_pct = !isnan(entered_scale) ? entered_scale
                       : measured            ? measured->calibration.sd_pct
                                             : (double)NAN;
    out.agreement = measured ? measured->calibration.agreement : BK_AGREEMENT_NOT_SAID;
    return out;
}
