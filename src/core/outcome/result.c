/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which measurements are compared, and what is known of each limb at the end. */
#include "core/outcome/result.h"

#include <math.h>

#include "core/anatomy/space/second_view.h"
#include "core/case/facts.h"
#include "core/patient/lines.h"

/* ---- the pair ---- */

static double apart(const bk_measured *a, const bk_measured *b)
{
    const double angles[] = {a->geometry.primary_deg, a->geometry.secondary_deg, b->geometry.primary_deg,
                             b->geometry.secondary_deg};
    for (size_t i = 0; i < 4; i++)
        if (!isfinite(angles[i]))
            return (double)NAN;
    return bk_views_apart_deg(angles[0], angles[1], angles[2], angles[3]);
}

/* a is better than b when it is in the same view and b is not, then by the newer final, then the newer
 * baseline. */
static bool better(const bk_measured *measured, const bk_result_pair *a, const bk_result_pair *b)
{
    if ((a->same_view == BK_YES) != (b->same_view == BK_YES))
        return a->same_view == BK_YES;
    if (a->final != b->final)
        return bk_measured_before(measured, (size_t)b->final, (size_t)a->final);
    return b->baseline < 0 || bk_measured_before(measured, (size_t)b->baseline, (size_t)a->baseline);
}

bk_result_pair bk_result_pair_of(const bk_measured *measured, size_t n, const bk_evidence_set *evidence)
{
    const double line = bk_evidence_value(evidence, BK_EVIDENCE("result_same_view"));
    bk_result_pair best = {-1, -1, (double)NAN, BK_UNKNOWN};
    for (size_t f = 0; f < n; f++) {
        if (measured[f].stage != BK_STAGE_FINAL)
            continue;
        const bk_result_pair alone = {-1, (ptrdiff_t)f, (double)NAN, BK_UNKNOWN};
        if (best.final < 0 || (best.baseline < 0 && better(measured, &alone, &best)))
            best = alone;
        for (size_t b = 0; b < n; b++) {
            if (measured[b].stage != BK_STAGE_BASELINE)
                continue;
            bk_result_pair pair = {(ptrdiff_t)b, (ptrdiff_t)f, apart(&measured[b], &measured[f]), BK_UNKNOWN};
            if (!isnan(pair.apart_deg))
                pair.same_view = bk_above(pair.apart_deg, line) ? BK_NO : BK_YES;
            if (best.baseline < 0 || better(measured, &pair, &best))
                best = pair;
        }
    }
    return best;
}

/* ---- limbs ---- */

static const bk_measured_limb *measured_limb(const bk_measured *m, int limb)
{
    const bk_measured_limb *const limbs[BK_LIMBS] = {&m->segments.proximal, &m->segments.distal,
                                                     &m->segments.side};
    return limbs[limb];
}

static bk_qty by_eye(bk_qty q, double sd)
{
    if (bk_has(q) && q.origin == BK_VISUAL && isnan(q.sd))
        q.sd = sd;
    return q;
}

/* 100 (1 - ostium / reference); both were measured in one picture, so the scale drops out. The reference's
   own SD is not known to be independent of the ostium's: no SD. */
static bk_qty ostium_of(const bk_measured_limb *limb)
{
    if (!bk_has(limb->ostial_mm) || !(limb->reference_mm.value > 0))
        return bk_qty_absent();
    return bk_qty_of(100 * (1 - limb->ostial_mm.value / limb->reference_mm.value), (double)NAN, BK_DERIVED);
}

static bk_qty gain(const bk_measured *before, const bk_measured *after, int limb)
{
    const bk_qty a = measured_limb(before, limb)->mld_mm, b = measured_limb(after, limb)->mld_mm;
    if (!bk_has(a) || !bk_has(b))
        return bk_qty_absent();
    return bk_qty_of(
        b.value - a.value,
        hypot(bk_fact_sd(a, before->calibration.sd_pct), bk_fact_sd(b, after->calibration.sd_pct)),
        BK_DERIVED);
}

static void take_measured(const bk_measured *measured, const bk_result_pair *pair, int limb,
                          bk_limb_outcome *out)
{
    const bk_measured *final = &measured[pair->final];
    const bk_measured_limb *after = measured_limb(final, limb);
    const bk_residual_from from = pair->same_view == BK_YES  ? BK_RESIDUAL_SAME_VIEW
                                  : pair->same_view == BK_NO ? BK_RESIDUAL_OTHER_VIEW
                                                             : BK_RESIDUAL_NO_BASELINE;
    if (pair->baseline >= 0)
        out->baseline_pct = measured_limb(&measured[pair->baseline], limb)->stenosis_pct;
    if (pair->same_view == BK_YES)
        out->gain_mm = gain(&measured[pair->baseline], final, limb);
    if (out->from == BK_RESIDUAL_NONE && bk_has(after->stenosis_pct)) {
        out->stenosis_pct = after->stenosis_pct;
        out->from = from;
    }
    const bk_qty ostium = limb == BK_SIDE ? ostium_of(after) : bk_qty_absent();
    if (out->ostium_from == BK_RESIDUAL_NONE && bk_has(ostium)) {
        out->ostium_pct = ostium;
        out->ostium_from = from;
    }
}

static void take_imaging(const bk_list *imaging, int limb, bk_limb_outcome *out)
{
    const bk_imaging *items = BK_ITEMS(*imaging, bk_imaging), *stent = NULL;
    for (size_t i = 0; i < imaging->n; i++)
        if (items[i].limb == limb + 1 && bk_has(items[i].msa_mm2) &&
            (items[i].stage == BK_STAGE_STENTED || items[i].stage == BK_STAGE_FINAL))
            stent = &items[i];
    if (!stent)
        return;
    out->msa_mm2 = stent->msa_mm2;
    out->mode = stent->mode;
    out->reference_mm2 = stent->reference_area_mm2;
    for (size_t i = imaging->n; i-- > 0 && !bk_has(out->reference_mm2);)
        if (items[i].limb == limb + 1 && items[i].mode == stent->mode)
            out->reference_mm2 = items[i].reference_area_mm2;
}

void bk_result_limbs(const bk_case *c, const bk_measured *measured, const bk_result_pair *pair,
                     const bk_evidence_set *evidence, bk_limb_outcome out[BK_LIMBS])
{
    const double eye = bk_evidence_value(evidence, BK_EVIDENCE("visual_stenosis_sd"));
    const bk_limb_result *const entered[BK_LIMBS] = {&c->result.segments.proximal, &c->result.segments.distal,
                                                     &c->result.segments.side};
    for (int limb = 0; limb < BK_LIMBS; limb++) {
        const bk_limb_result *in = entered[limb];
        const bk_qty absent = bk_qty_absent();
        out[limb] =
            (bk_limb_outcome){.timi = in->timi,
                              .treatment = in->treatment,
                              .stenosis_pct = by_eye(in->stenosis_pct, eye),
                              .ostium_pct = limb == BK_SIDE ? by_eye(in->ostium_stenosis_pct, eye) : absent,
                              .baseline_pct = absent,
                              .gain_mm = absent,
                              .msa_mm2 = absent,
                              .reference_mm2 = absent,
                              .edge_dissection_deg = in->edge_dissection_deg,
                              .edge_plaque_pct = in->edge_plaque_pct};
        out[limb].from = bk_has(out[limb].stenosis_pct) ? BK_RESIDUAL_ENTERED : BK_RESIDUAL_NONE;
        out[limb].ostium_from = bk_has(out[limb].ostium_pct) ? BK_RESIDUAL_ENTERED : BK_RESIDUAL_NONE;
        if (pair->final >= 0)
            take_measured(measured, pair, limb, &out[limb]);
        take_imaging(&c->imaging, limb, &out[limb]);
    }
}
