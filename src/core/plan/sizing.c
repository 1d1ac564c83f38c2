/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/sizing.h"

#include <math.h>

#include "core/num.h"

const char *bk_use_name(int use)
{
    static const char *const names[BK_USES] = {"main_stent",   "pot_balloon",  "side_balloon",
                                               "kissing_main", "kissing_side", "predilatation"};
    return names[use];
}

static const struct {
    int limb;
    const char *evidence_id;
} rules[BK_USES] = {
    [BK_MAIN_STENT] = {BK_DISTAL, BK_EVIDENCE("stent_by_distal")},
    [BK_POT_BALLOON] = {BK_PROXIMAL, BK_EVIDENCE("pot_by_proximal")},
    [BK_SIDE_BALLOON] = {BK_SIDE, BK_EVIDENCE("kissing_by_daughters")},
    [BK_KISSING_MAIN] = {BK_DISTAL, BK_EVIDENCE("kissing_by_daughters")},
    [BK_KISSING_SIDE] = {BK_SIDE, BK_EVIDENCE("kissing_by_daughters")},
    [BK_PREDILATATION] = {BK_DISTAL, BK_EVIDENCE("predilatation_ratio")},
};

static double on_grid(double reference_mm, double step_mm, bool below)
{
    /* a hair above the grid still counts as on it: 2.9999 is 3.0 */
    return step_mm * (below ? floor(reference_mm / step_mm + 1e-6) : floor(reference_mm / step_mm + 0.5));
}

static bk_device_size size_for(int use, const bk_facts *facts, double step_mm)
{
    bk_device_size out = {rules[use].limb, NAN, NAN, NAN, facts->limb[rules[use].limb].reference_mm.q,
                          rules[use].evidence_id};
    if (!bk_has(out.reference))
        return out;
    const bool below = use == BK_PREDILATATION;
    const double sd = bk_fact_sd(out.reference, facts->scale_sd_pct), reach = bk_normal_quantile(0.95) * sd;
    out.diameter_mm = on_grid(out.reference.value, step_mm, below);
    if (isfinite(sd)) {
        out.low_mm = on_grid(out.reference.value - reach, step_mm, below);
        out.high_mm = on_grid(out.reference.value + reach, step_mm, below);
    }
    return out;
}

/* From the far end of the distal lesion to the proximal landing, both counted from the branch point in space. */
static void find_length(const bk_facts *facts, const bk_evidence_set *evidence, bk_sizing *out)
{
    const bk_limb_facts *proximal = &facts->limb[BK_PROXIMAL], *distal = &facts->limb[BK_DISTAL];
    out->length_mm = NAN;
    if (proximal->length_mm.from != BK_FROM_SOLID || distal->length_mm.from != BK_FROM_SOLID) {
        out->length_hold = "lengths from one view are lower bounds; a second view at least 30 degrees away releases it";
        return;
    }
    const double before = proximal->no_lesion ? 0 : proximal->lesion_end_mm;
    const double behind = distal->no_lesion ? 0 : distal->lesion_end_mm;
    if (!isfinite(before + behind)) {
        out->length_hold = "the ends of the lesion are not known in space";
        return;
    }
    const double shortest = bk_evidence_value(evidence, BK_EVIDENCE("landing_proximal"));
    out->length_mm = fmax(before, shortest) + behind;
}

/* The first class whose nominal range holds the stent's diameter. */
static void find_platform(const bk_facts *facts, const bk_evidence_set *evidence, bk_sizing *out)
{
    static const char *const nominal[] = {BK_EVIDENCE("platform_small_nominal"), BK_EVIDENCE("platform_medium_nominal"),
                                          BK_EVIDENCE("platform_large_nominal"), BK_EVIDENCE("platform_extra_large_nominal")};
    static const char *const maximum[] = {BK_EVIDENCE("platform_small_maximum"), BK_EVIDENCE("platform_medium_maximum"),
                                          BK_EVIDENCE("platform_large_maximum"), BK_EVIDENCE("platform_extra_large_maximum")};
    const double diameter = out->item[BK_MAIN_STENT].diameter_mm;
    const bk_qty proximal = facts->limb[BK_PROXIMAL].reference_mm.q;
    for (size_t i = 0; i < sizeof nominal / sizeof nominal[0]; i++)
        if (diameter >= bk_evidence_low(evidence, nominal[i]) && diameter <= bk_evidence_high(evidence, nominal[i])) {
            out->platform_id = maximum[i];
            out->platform_short = bk_has(proximal) && proximal.value > bk_evidence_low(evidence, maximum[i]);
            return;
        }
}

bk_sizing bk_sizing_find(const bk_facts *facts, const bk_evidence_set *evidence)
{
    bk_sizing out = {0};
    const double step = bk_evidence_value(evidence, BK_EVIDENCE("size_step"));
    for (int use = 0; use < BK_USES; use++)
        out.item[use] = size_for(use, facts, step);
    const double a = out.item[BK_KISSING_MAIN].diameter_mm, b = out.item[BK_KISSING_SIDE].diameter_mm;
    out.has_kissing = a > 0 && b > 0;
    if (out.has_kissing)
        out.kissing = bk_kissing_outline(a, b);
    find_length(facts, evidence, &out);
    find_platform(facts, evidence, &out);
    return out;
}
