/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/law_check.h"

#include <math.h>

#define HEALTHY_LEAST_MM 1.5
#define WIDE_PART 0.25    /* over the law by this much and by two SD */
#define DIFFUSE_PART 0.12 /* under the law by this much and by two SD: perhaps diffuse disease */

static double ostial_reference(const bk_segment *s)
{
    return s->reference_at_mm[0];
}

/* What the law expects of one limb, given the other two, with its SD by numerical propagation. */
static bk_qty expected(const bk_segment segment[BK_LIMBS], int limb, bk_branching_law law)
{
    const int a = limb == BK_PROXIMAL ? BK_DISTAL : BK_PROXIMAL, b = limb == BK_SIDE ? BK_DISTAL : BK_SIDE;
    if (segment[a].n == 0 || segment[b].n == 0) /* no lumen, no reference */
        return bk_qty_absent();
    const double da = ostial_reference(&segment[a]), db = ostial_reference(&segment[b]);
    const double sa = segment[a].reference_mm.sd, sb = segment[b].reference_mm.sd;
    const double step = 0.01;
    double value, by_a, by_b;
    if (limb == BK_PROXIMAL) {
        value = bk_branching_mother(law, da, db);
        by_a = (bk_branching_mother(law, da + step, db) - value) / step;
        by_b = (bk_branching_mother(law, da, db + step) - value) / step;
    } else {
        value = bk_branching_daughter(law, da, db);
        by_a = (bk_branching_daughter(law, da + step, db) - value) / step;
        by_b = (bk_branching_daughter(law, da, db - step) - value) / -step;
    }
    if (!isfinite(value) || !(value > 0))
        return bk_qty_absent();
    return bk_qty_of(value, hypot(by_a * sa, by_b * sb), BK_DERIVED);
}

/* Put the law's reference in the place of one that rests on hardly any healthy vessel. */
static void complete(bk_segment *s, bk_qty by_law)
{
    const double shift = by_law.value - ostial_reference(s);
    for (size_t i = 0; i < s->n; i++)
        s->reference_at_mm[i] += shift;
    const double reference = s->reference_mm.value + shift, ratio = s->mld_mm.value / reference;
    const double sd = hypot(s->mld_mm.sd, ratio * by_law.sd) / reference;
    s->reference_mm = bk_qty_of(reference, by_law.sd, BK_DERIVED);
    if (s->occluded)
        return;
    s->stenosis_pct = bk_qty_of(100 * fmax(1 - ratio, 0), 100 * sd, BK_DERIVED);
    s->area_stenosis_pct = bk_qty_of(100 * fmax(1 - ratio * ratio, 0), 200 * ratio * sd, BK_DERIVED);
}

void bk_law_check(bk_bifurcation *b, bk_branching_law law)
{
    bk_qty by_law[BK_LIMBS];
    for (int i = 0; i < BK_LIMBS; i++)
        by_law[i] = expected(b->segment, i, law);
    for (int i = 0; i < BK_LIMBS; i++) {
        bk_segment *s = &b->segment[i];
        s->reference_by_law_mm = by_law[i];
        if (s->n == 0)
            s->reference_mm = by_law[i];
        if (!bk_has(by_law[i]) || s->n == 0 || bk_has(s->reference_fitted_mm)) /* what a person forced stands */
            continue;
        const double shortfall = by_law[i].value - ostial_reference(s);
        if (s->healthy_mm < HEALTHY_LEAST_MM && shortfall > 0) {
            bk_bifurcation_warn(b, "reference_by_law", "the %s limb shows %.1f mm of healthy vessel: its reference is the branching law's",
                                bk_limb_name(i), s->healthy_mm);
            complete(s, by_law[i]);
        } else if (shortfall > DIFFUSE_PART * by_law[i].value && shortfall > 2 * hypot(by_law[i].sd, s->reference_mm.sd)) {
            bk_bifurcation_warn(b, "diffuse", "the %s reference is %.0f %% under what the branching law expects: perhaps diffuse disease",
                                bk_limb_name(i), 100 * shortfall / by_law[i].value);
        } else if (-shortfall > WIDE_PART * by_law[i].value && -shortfall > 2 * hypot(by_law[i].sd, s->reference_mm.sd)) {
            bk_bifurcation_warn(b, "wider_than_law", "the %s reference is %.0f %% over what the branching law expects: ectasia, or two vessels over one another",
                                bk_limb_name(i), -100 * shortfall / by_law[i].value);
        }
    }
}
