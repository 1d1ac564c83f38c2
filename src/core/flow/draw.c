/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>

#include "core/flow/scene.h"

#define ML_PER_MIN (1e-6 / 60)
#define TWO_VIEWS_ROUNDNESS 0.25 /* how far the ellipse may be off with two views: choice of this project */
#define SMALLEST_MM 0.05
#define LEAST_RESERVE 1.2 /* hyperaemia raises flow: choice of this project */

static double spread_of(bk_qty q)
{
    return isnan(q.sd) ? 0 : q.sd;
}

static double normal(bk_random *random, double mean, double sd)
{
    return random ? mean + sd * bk_random_normal(random) : mean;
}

static double between(bk_random *random, const bk_evidence *row)
{
    return random ? bk_random_between(random, row->low, row->high) : row->value;
}

/* Most often the value, never outside the range. */
static double triangular(bk_random *random, const bk_evidence *row)
{
    const double low = row->low, peak = row->value, high = row->high;
    if (!random)
        return peak;
    const double u = bk_random_unit(random), turn = (peak - low) / (high - low);
    return u < turn ? low + sqrt(u * (high - low) * (peak - low))
                    : high - sqrt((1 - u) * (high - low) * (high - peak));
}

/* A spread of people, cut off two SDs away so that no flow is nothing or negative. */
static double person(bk_random *random, double mean, double sd)
{
    return fmin(mean + 2 * sd, fmax(mean - 2 * sd, normal(random, mean, sd)));
}

/* Muscle of a daughter's vessel: people differ as published, whatever the mean rests on. */
static double grams_of(const bk_flow_scene *scene, int limb, bk_random *random)
{
    const bk_vessel *v = &scene->vessel[limb];
    bk_qty mass = scene->lv_mass_g;
    if (bk_has(mass))
        mass.value = fmax(0.5 * mass.value, normal(random, mass.value, spread_of(mass)));
    const double grams = bk_vessel_grams(v, mass);
    return person(random, grams, grams * v->grams->sd / v->grams->value);
}

static double per_gram_of(const bk_vessel *vessel, bk_random *random)
{
    return person(random, vessel->per_gram->value, vessel->per_gram->sd);
}

/* Hyperaemic flow into the bifurcation without any epicardial loss, of a vessel that is not the left main. */
static double flow_into(const bk_flow_scene *scene, double proximal_mm, double split, bk_random *random)
{
    if (bk_has(scene->front_cm_s)) {
        const bk_qty front = scene->front_cm_s;
        const double velocity = fmax(0.2 * front.value, normal(random, front.value, spread_of(front)));
        const double reserve = person(random, scene->rows.reserve->value, scene->rows.reserve->sd);
        return velocity * 1e-2 * bk_circle(proximal_mm * 1e-3) * fmax(LEAST_RESERVE, reserve);
    }
    const bk_vessel *v = &scene->vessel[BK_SIDE];
    const double calibre = person(random, scene->calibre_mm, v->calibre->sd * scene->calibre_mm / v->calibre->value);
    const double grams = grams_of(scene, BK_SIDE, random) * bk_behind_share(proximal_mm, calibre, split);
    return grams * per_gram_of(v, random) * ML_PER_MIN;
}

static void draw_flows(const bk_flow_scene *scene, bk_random *random, bk_flow_draw *out)
{
    const double split = triangular(random, scene->rows.split);
    if (scene->site == BK_LEFT_MAIN) {
        for (int k = BK_DISTAL; k < BK_LIMBS; k++) {
            const double grams = grams_of(scene, k, random);
            out->flow[k] = grams * per_gram_of(&scene->vessel[k], random) * ML_PER_MIN;
        }
        return;
    }
    const double total = flow_into(scene, out->reference_mm[BK_PROXIMAL], split, random);
    const double ratio = pow(out->reference_mm[BK_SIDE] / out->reference_mm[BK_DISTAL], split);
    out->flow[BK_DISTAL] = total / (1 + ratio);
    out->flow[BK_SIDE] = total - out->flow[BK_DISTAL];
}

double bk_roundness_limit(bool two_views)
{
    return two_views ? TWO_VIEWS_ROUNDNESS : 1;
}

static void draw_lumens(const bk_flow_scene *scene, bk_random *random, bk_flow_draw *out)
{
    const double scale = fmax(0.5, normal(random, 1, scene->scale_sd));
    for (int k = 0; k < BK_LIMBS; k++) {
        const double reference = normal(random, scene->reference_mm[k], scene->reference_sd[k]);
        out->reference_mm[k] = scale * fmax(reference, 0.3 * scene->reference_mm[k]);
        const double mld = scale * fmax(SMALLEST_MM, normal(random, scene->mld_mm[k], scene->mld_sd[k]));
        out->mld_mm[k] = fmin(mld, out->reference_mm[k]);
        out->shift_deg[k] = normal(random, scene->shift_deg[k].value, spread_of(scene->shift_deg[k]));
        out->roundness[k] = random ? bk_random_unit(random) * bk_roundness_limit(scene->two_views[k]) : 0;
    }
}

/* What collaterals keep up behind a closed limb, between venous and aortic pressure. */
static double draw_wedge(const bk_flow_scene *scene, int limb, bk_random *random, const bk_flow_draw *out)
{
    const bk_qty wedge = scene->wedge_mmhg[limb];
    double pa = (double)NAN;
    if (bk_has(wedge))
        pa = normal(random, wedge.value, spread_of(wedge)) * BK_PA_PER_MMHG;
    else if (scene->collaterals && limb == BK_SIDE)
        pa = out->venous_pa + between(random, scene->rows.collateral) * (out->aortic_pa - out->venous_pa);
    else
        return pa;
    return fmin(fmax(pa, out->venous_pa + 1), out->aortic_pa - 1);
}

bk_flow_draw bk_flow_draw_of(const bk_flow_scene *scene, bk_random *random)
{
    const bk_flow_rows *rows = &scene->rows;
    bk_flow_draw out = {.blood = {between(random, rows->viscosity), rows->density}};
    const bk_qty aortic = scene->aortic_mmhg;
    const double mmhg = bk_has(aortic) ? fmax(0.5 * aortic.value, normal(random, aortic.value, spread_of(aortic)))
                                       : between(random, rows->aortic);
    out.aortic_pa = mmhg * BK_PA_PER_MMHG;
    out.venous_pa = between(random, rows->venous) * BK_PA_PER_MMHG;
    draw_lumens(scene, random, &out);
    draw_flows(scene, random, &out);
    out.recoil = person(random, rows->recoil->value, rows->recoil->sd) / 100;
    out.residual = triangular(random, rows->residual) / 100;
    out.residual_drug = triangular(random, rows->residual_drug) / 100;
    for (int k = BK_DISTAL; k < BK_LIMBS; k++)
        out.wedge_pa[k] = draw_wedge(scene, k, random, &out);
    out.wedge_pa[BK_PROXIMAL] = (double)NAN;
    return out;
}
