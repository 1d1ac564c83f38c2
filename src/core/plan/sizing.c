/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/sizing.h"

#include <math.h>

#include "core/num.h"

#define PI 3.14159265358979323846

/* 1.645: half-width of the 90 % interval in SDs */
static double half_width(void)
{
    return bk_normal_quantile(0.5 + BK_LEVEL_PCT / 200.0);
}

double bk_nominal_size(double target_mm, double step_mm)
{
    // ceil(x - 1/2) rounds half-way cases down; the tiny shift keeps 3.125 half-way after an inexact division
    return step_mm * ceil(target_mm / step_mm - 0.5 - 1e-9);
}

bk_size_choice bk_size_choose(double target_mm, double sd_mm, double step_mm)
{
    const double nominal = bk_nominal_size(target_mm, step_mm);
    bk_size_choice out = {
        .known = true, .target_mm = target_mm, .nominal_mm = nominal, .spread_known = !isnan(sd_mm)};
    out.low_mm = out.high_mm = out.low_nominal_mm = out.high_nominal_mm = out.same_size_pct = (double)NAN;
    if (!out.spread_known)
        return out;
    out.low_mm = target_mm - half_width() * sd_mm;
    out.high_mm = target_mm + half_width() * sd_mm;
    out.low_nominal_mm = bk_nominal_size(out.low_mm, step_mm);
    out.high_nominal_mm = bk_nominal_size(out.high_mm, step_mm);
    out.same_size_pct = 100;
    if (sd_mm > 0)
        out.same_size_pct = 100 * (bk_normal_cdf((nominal + step_mm / 2 - target_mm) / sd_mm) -
                                   bk_normal_cdf((nominal - step_mm / 2 - target_mm) / sd_mm));
    out.stable = out.same_size_pct >= BK_STABLE_PCT;
    return out;
}

size_t bk_platforms_for(const bk_evidence_set *evidence, double nominal_mm, double needed_mm,
                        bk_platform out[BK_PLATFORMS_MAX])
{
    static const char *const names[BK_PLATFORMS_MAX] = {"small", "medium", "large", "extra_large"};
    static const char *const ids[BK_PLATFORMS_MAX][2] = {
        {BK_EVIDENCE("platform_small_nominal"), BK_EVIDENCE("platform_small_maximum")},
        {BK_EVIDENCE("platform_medium_nominal"), BK_EVIDENCE("platform_medium_maximum")},
        {BK_EVIDENCE("platform_large_nominal"), BK_EVIDENCE("platform_large_maximum")},
        {BK_EVIDENCE("platform_extra_large_nominal"), BK_EVIDENCE("platform_extra_large_maximum")},
    };
    size_t n = 0;
    for (size_t i = 0; i < BK_PLATFORMS_MAX; i++) {
        const double low = bk_evidence_low(evidence, ids[i][1]), high = bk_evidence_high(evidence, ids[i][1]);
        if (nominal_mm < bk_evidence_low(evidence, ids[i][0]) ||
            nominal_mm > bk_evidence_high(evidence, ids[i][0]))
            continue;
        out[n++] = (bk_platform){names[i], bk_evidence_find(evidence, ids[i][0]),
                                 bk_evidence_find(evidence, ids[i][1]),
                                 needed_mm <= low    ? BK_PLATFORM_WITHIN
                                 : needed_mm <= high ? BK_PLATFORM_MARGINAL
                                                     : BK_PLATFORM_ABOVE};
    }
    return n;
}

/* ---- stent length ---- */

/* How far the lesion of a limb reaches: from the branch point, or from the ostium when only its length is
 * known. */
typedef struct part {
    bool known, projected, from_ostium;
    double mm, sd_mm;
} part;

static part lesion_part(const bk_limb_facts *limb, double scale_sd_pct)
{
    if (limb->no_lesion)
        return (part){true, false, false, 0, 0};
    const bk_qty q = limb->lesion_length_mm.q;
    if (!bk_has(q))
        return (part){false, false, false, (double)NAN, (double)NAN};
    const bool from_ostium = isnan(limb->lesion_end_mm);
    return (part){true, q.origin == BK_PROJECTED, from_ostium, from_ostium ? q.value : limb->lesion_end_mm,
                  bk_fact_sd(q, scale_sd_pct)};
}

static double reach(const part *lesion, double window_mm)
{
    return lesion->mm + (lesion->from_ostium ? window_mm / 2 : 0);
}

static double chord(double side_mm, double angle_deg)
{
    return side_mm / sin(angle_deg * PI / 180);
}

typedef struct window {
    double mm, low_mm, high_mm;
} window;

/* The side ostium cut by the main axis: an ellipse whose long axis is side / sin(angle). */
static window ostium_window(double side_mm, bk_qty angle, bool angle_known, double narrow_deg)
{
    const window bound = {chord(side_mm, narrow_deg), side_mm, chord(side_mm, narrow_deg)};
    if (!angle_known)
        return bound;
    const double mm = chord(side_mm, angle.value);
    if (isnan(angle.sd))
        return (window){mm, mm, mm};
    const double spread = half_width() * angle.sd;
    const double a = angle.value - spread, b = angle.value + spread;
    const double low = a <= 90 && b >= 90 ? side_mm : fmin(chord(side_mm, a), chord(side_mm, b));
    const bool inside =
        a > 5 && b < 175; // nearer to 0 or 180 the chord is unbounded: the narrow bound stands in
    const double high = inside ? fmax(chord(side_mm, a), chord(side_mm, b)) : fmax(mm, bound.high_mm);
    return (window){mm, low, high};
}

static double proximal_floor(const bk_evidence_set *evidence)
{
    return fmax(bk_evidence_value(evidence, BK_EVIDENCE("landing_proximal")),
                bk_evidence_value(evidence, BK_EVIDENCE("pot_shortest_balloon")) +
                    bk_evidence_value(evidence, BK_EVIDENCE("landing_over_pot")));
}

/* The two parts for one width of the window. */
static double cover(const part *distal, const part *proximal, double landing_mm, double window_mm,
                    double *distal_mm, double *proximal_mm)
{
    // the ostium has to be crossed even where no lesion lies beyond it
    *distal_mm = fmax(reach(distal, window_mm), window_mm / 2);
    *proximal_mm = fmax(reach(proximal, window_mm), window_mm / 2 + landing_mm);
    return *distal_mm + *proximal_mm;
}

static void add_range(const part *distal, const part *proximal, const window *across, double landing_mm,
                      bk_stent_length *out)
{
    double d, p;
    const double low = cover(distal, proximal, landing_mm, across->low_mm, &d, &p);
    const double high = cover(distal, proximal, landing_mm, across->high_mm, &d, &p);
    const bool lesion_decides = out->proximal_mm > out->window_mm / 2 + landing_mm;
    const double sd = hypot(distal->sd_mm, lesion_decides ? proximal->sd_mm : 0);
    out->spread_known = !isnan(sd);
    const double spread = out->spread_known ? half_width() * sd : 0;
    out->low_mm = low - spread;
    out->high_mm = high + spread;
}

bk_stent_length bk_stent_length_of(const bk_facts *facts, enum bk_limb axis, enum bk_limb other,
                                   const bk_evidence_set *evidence)
{
    const part distal = lesion_part(&facts->limb[axis], facts->scale_sd_pct);
    const part proximal = lesion_part(&facts->limb[BK_PROXIMAL], facts->scale_sd_pct);
    const bk_qty side = facts->limb[other].reference_mm.q, angle = facts->distal_side_deg.q;
    bk_stent_length out = {.verdict = BK_LENGTH_MISSING, .length_mm = (double)NAN};
    out.low_mm = out.high_mm = out.at_least_mm = (double)NAN;
    if (!distal.known || !proximal.known || !bk_has(side))
        return out;
    out.angle_known = bk_has(angle) && angle.origin != BK_PROJECTED && angle.value > 5 && angle.value < 175;
    out.ends_known = !distal.from_ostium && !proximal.from_ostium;
    const window across = ostium_window(side.value, angle, out.angle_known,
                                        bk_evidence_value(evidence, BK_EVIDENCE("ostium_angle_low")));
    const double landing = proximal_floor(evidence);
    out.at_least_mm = cover(&distal, &proximal, landing, across.low_mm, &out.distal_mm, &out.proximal_mm);
    out.verdict = distal.projected || proximal.projected ? BK_LENGTH_HELD : BK_LENGTH_GIVEN;
    out.window_mm = across.low_mm;
    if (out.verdict == BK_LENGTH_HELD)
        return out;
    out.window_mm = across.mm;
    const double length = cover(&distal, &proximal, landing, across.mm, &out.distal_mm, &out.proximal_mm);
    out.length_mm = ceil(length - 1e-9);
    add_range(&distal, &proximal, &across, landing, &out);
    return out;
}
