/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/flow/treat.h"

#include <math.h>

#define PI 3.14159265358979323846
#define MM 1e-3
#define OSTIUM_MM 1.0 /* length of a carina-shifted ostium: choice of this project, "very short" in the source */
#define SMALLEST_MM 0.05
#define LEAST_BEND_DEG 30 /* of the distal main vessel, for the carina model to be tried on it: choice of this project */
#define LESION_BELOW 0.9 /* as in loss.c */

enum { N = BK_FLOW_SAMPLES_ALONG };

const char *const bk_end_names[BK_ENDS] = {"untreated", "jailed", "jailed_opened", "dilated",  "drug_coated",
                                           "inverted",  "single", "both_stented",  "balloons"};

bk_end bk_end_of(enum bk_strategy strategy)
{
    switch (strategy) {
    case BK_PROVISIONAL:
    case BK_PROVISIONAL_WIRE:
    case BK_JAILED_BALLOON: // keeps the branch open on the way; the lumen it leaves has not been published
        return BK_END_JAILED;
    case BK_KISSING_PREDILATATION:
        return BK_END_JAILED_OPENED;
    case BK_INVERTED:
        return BK_END_INVERTED;
    case BK_SINGLE_LIMB:
        return BK_END_SINGLE;
    case BK_DCB_SIDE:
        return BK_END_DRUG_COATED;
    case BK_T:
    case BK_TAP:
    case BK_CULOTTE:
    case BK_DK_CULOTTE:
    case BK_DK_CRUSH:
        return BK_END_BOTH;
    case BK_STRATEGY_NOT_SAID:
    case BK_STRATEGIES:
    default:
        return BK_END_UNTREATED;
    }
}

/* ---- what is done to each limb ---- */

typedef enum state {
    AS_IT_IS,
    NARROWED, /* at its ostium, by the carina */
    STENTED,
    DILATED,
    DILATED_NARROWED,
    DILATED_THROUGH, /* through the struts of the main stent: its ostium too */
    DRUG_THROUGH
} state;

typedef struct plan {
    state limb[BK_LIMBS];
} plan;

int bk_end_narrows(bk_end end)
{
    if (end == BK_END_JAILED || end == BK_END_JAILED_OPENED)
        return BK_SIDE;
    return end == BK_END_INVERTED ? BK_DISTAL : BK_LIMBS;
}

bool bk_end_says(const bk_flow_scene *scene, bk_end end, int limb)
{
    return !(end == BK_END_INVERTED && limb == BK_DISTAL && scene->shift_deg[BK_DISTAL].value < LEAST_BEND_DEG);
}

static state side_state(bk_end end)
{
    static const state of[BK_ENDS] = {[BK_END_JAILED] = NARROWED,           [BK_END_JAILED_OPENED] = DILATED_NARROWED,
                                      [BK_END_DILATED] = DILATED_THROUGH,   [BK_END_DRUG_COATED] = DRUG_THROUGH,
                                      [BK_END_INVERTED] = STENTED,          [BK_END_BOTH] = STENTED,
                                      [BK_END_BALLOONS] = DILATED};
    return of[end];
}

static plan plan_of(const bk_flow_scene *scene, bk_end end)
{
    plan out = {{AS_IT_IS, AS_IT_IS, side_state(end)}};
    const int single = end == BK_END_SINGLE ? bk_flow_single_limb(scene) : -1;
    if (end == BK_END_BALLOONS)
        out.limb[BK_PROXIMAL] = out.limb[BK_DISTAL] = DILATED;
    else if (end != BK_END_UNTREATED && end != BK_END_SINGLE)
        out.limb[BK_PROXIMAL] = out.limb[BK_DISTAL] = STENTED;
    if (end == BK_END_INVERTED)
        out.limb[BK_DISTAL] = bk_end_says(scene, end, BK_DISTAL) ? NARROWED : AS_IT_IS;
    if (single >= 0)
        out.limb[single] = STENTED;
    return out;
}

static bool opens(state done)
{
    return done != AS_IT_IS && done != NARROWED;
}

const char *bk_end_lacks(const bk_flow_scene *scene, bk_end end)
{
    static const char *const lesion[BK_LIMBS] = {"anatomy.segments.proximal.lesion_length_mm",
                                                 "anatomy.segments.distal.lesion_length_mm",
                                                 "anatomy.segments.side.lesion_length_mm"};
    const plan p = plan_of(scene, end);
    if (end == BK_END_SINGLE && bk_flow_single_limb(scene) < 0)
        return "anatomy.segments";
    const int narrowed = bk_end_narrows(end);
    if (narrowed < BK_LIMBS && !bk_has(scene->shift_deg[narrowed]))
        return narrowed == BK_SIDE ? "anatomy.angles.proximal_side_deg" : "anatomy.angles.proximal_distal_deg";
    for (int k = 0; k < BK_LIMBS; k++)
        if (opens(p.limb[k]) && scene->occluded[k] && scene->lesion_unknown[k])
            return lesion[k];
    return NULL;
}

/* ---- curves ---- */

double bk_carina_stenosis_pct(double shift_deg)
{
    return 100 * fmax(0, cos(fmin(90, fabs(shift_deg)) * PI / 180));
}

double bk_shifted_ostium_mm(double daughter_mm, double stenosis_pct, double roundness)
{
    const double narrow = daughter_mm * (1 - stenosis_pct / 100);
    return sqrt(narrow * (daughter_mm + roundness * (narrow - daughter_mm)));
}

typedef struct curve {
    double x[N], d[N], healthy[N]; /* m */
} curve;

static double from_branch_point(const bk_flow_scene *scene, int k, int i)
{
    return k == BK_PROXIMAL ? scene->position_mm[k][N - 1] - scene->position_mm[k][i] : scene->position_mm[k][i];
}

/* How far a stent reaches from the branch point: as named, else over the last narrow place. */
static double reach_mm(const bk_flow_scene *scene, int k)
{
    double reach = k == BK_PROXIMAL ? scene->usual_landing_mm : 0;
    if (!isnan(scene->landing_mm[k]))
        return scene->landing_mm[k];
    for (int i = 0; i < N; i++)
        if (scene->diameter_mm[k][i] < LESION_BELOW * scene->healthy_mm[k][i])
            reach = fmax(reach, from_branch_point(scene, k, i));
    return reach;
}

/* The line that carries the best MLD and reference to the drawn ones carries the whole curve. */
static void draw_curve(const bk_flow_scene *scene, const bk_flow_draw *draw, int k, curve *out)
{
    const double reference = scene->reference_mm[k], depth = reference - scene->mld_mm[k];
    const double grown = draw->reference_mm[k] / reference;
    const double slope = depth > 0.01 * reference ? (draw->reference_mm[k] - draw->mld_mm[k]) / depth : grown;
    const double at_zero = draw->reference_mm[k] - slope * reference;
    for (int i = 0; i < N; i++) {
        out->x[i] = scene->position_mm[k][i] * MM;
        out->healthy[i] = scene->healthy_mm[k][i] * grown * MM;
        out->d[i] = fmax(SMALLEST_MM, at_zero + slope * scene->diameter_mm[k][i]) * MM;
    }
}

static void treat_curve(const bk_flow_scene *scene, const bk_flow_draw *draw, int k, state done, curve *c)
{
    const double reach = reach_mm(scene, k), residual = done == DRUG_THROUGH ? draw->residual_drug : draw->residual;
    const double stent = scene->stent_mm[k].value * (1 - draw->recoil) * MM;
    const double narrow = bk_shifted_ostium_mm(draw->reference_mm[k], bk_carina_stenosis_pct(draw->shift_deg[k]),
                                               draw->roundness[k]);
    const bool through = done == DILATED_THROUGH || done == DRUG_THROUGH;
    for (int i = 0; i < N; i++) {
        const double away = from_branch_point(scene, k, i);
        if (done == STENTED && away <= reach)
            c->d[i] = fmax(c->d[i], stent);
        if (done == DILATED || done == DILATED_NARROWED || through)
            c->d[i] = fmax(c->d[i], (1 - residual) * c->healthy[i]);
        if ((done == NARROWED || done == DILATED_NARROWED) && away < OSTIUM_MM)
            c->d[i] = fmin(c->d[i], fmax(SMALLEST_MM, narrow) * MM);
        if (through && away < OSTIUM_MM)
            c->d[i] = fmin(c->d[i], (1 - residual) * c->healthy[i]);
    }
}

/* ---- networks ---- */

static bk_limb_loss limb_of(const bk_flow_scene *scene, const bk_flow_draw *draw, int k, state done)
{
    curve c;
    if (scene->occluded[k] && !opens(done))
        return (bk_limb_loss){.occluded = true};
    draw_curve(scene, draw, k, &c);
    treat_curve(scene, draw, k, done, &c);
    return bk_limb_loss_of(draw->blood, c.x, c.d, c.healthy, N);
}

bk_network bk_flow_network_of(const bk_flow_scene *scene, const bk_flow_draw *draw, bk_end end)
{
    bk_network out = {.blood = draw->blood, .aortic_pa = draw->aortic_pa, .venous_pa = draw->venous_pa};
    const plan p = plan_of(scene, end);
    for (int k = 0; k < BK_LIMBS; k++)
        out.limb[k] = limb_of(scene, draw, k, p.limb[k]);
    for (int k = BK_DISTAL; k < BK_LIMBS; k++) {
        const double wedge = draw->wedge_pa[k];
        out.bed[k] = bk_bed_of(draw->aortic_pa, draw->venous_pa, draw->flow[k]);
        // bed and collaterals in series divide the pressure: what stands between them is the wedge
        out.collateral[k] =
            isnan(wedge) ? 0 : out.bed[k] * (draw->aortic_pa - wedge) / (wedge - draw->venous_pa);
    }
    return out;
}

void bk_flow_pull_back(const bk_flow_scene *scene, const bk_flow_draw *draw, const bk_network *network, int k,
                       double flow, double drop_pa[N])
{
    curve c;
    draw_curve(scene, draw, k, &c);
    bk_pull_back(&network->limb[k], draw->blood, c.x, c.d, N, flow, drop_pa);
}
