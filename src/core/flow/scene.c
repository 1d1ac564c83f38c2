/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/flow/scene.h"

#include <math.h>

#include "core/plan/sizing.h"
#include "core/plan/strategy.h"

#define PI 3.14159265358979323846
#define BEYOND_MM 10.0 /* healthy vessel behind a lesion where no limb length is known: choice of this project */
#define SMALLEST_MM 0.05
#define SIGNIFICANT 0.5 /* stenosis that makes a limb diseased, as the Medina digits have it by default */

enum { N = BK_FLOW_SAMPLES_ALONG };
enum { COLLATERALS_RECEIVES = 2 }; /* as in core/case/case_anatomy.c */

static bool lesion_free(const bk_limb_facts *limb)
{
    return limb->no_lesion || limb->mld_mm.q.value > 0.9 * limb->reference_mm.q.value;
}

const char *bk_flow_lacks(const bk_limb_facts *limb)
{
    if (!bk_has(limb->reference_mm.q))
        return "reference_mm";
    if (limb->occluded == BK_YES)
        return NULL;
    if (!bk_has(limb->mld_mm.q))
        return "mld_mm";
    if (limb->curve.n < 2 && !lesion_free(limb) && !bk_has(limb->lesion_length_mm.q))
        return "lesion_length_mm";
    return NULL;
}

/* ---- curves ---- */

/* Stretches of the document's curve, each by its narrowest sample, so that no throat is lost. */
static void take_curve(const bk_limb_facts *limb, int k, bk_flow_scene *out)
{
    const bk_limb_curve *c = &limb->curve;
    const size_t n = c->n < N ? c->n : N;
    for (size_t i = 0; i < N; i++) {
        const size_t from = i * c->n / N, to = n < N ? from + 1 : (i + 1) * c->n / N;
        size_t best = from;
        for (size_t j = from; j < to && j < c->n; j++)
            if (c->diameter_mm[j] < c->diameter_mm[best])
                best = j;
        const size_t at = k == BK_PROXIMAL ? N - 1 - i : i; // flow runs towards the branch point there
        const double along = (double)i / (N - 1);
        const double span = c->position_mm[c->n - 1] - c->position_mm[0];
        out->position_mm[k][at] = k == BK_PROXIMAL ? span * (1 - along) : span * along;
        out->diameter_mm[k][at] = fmax(SMALLEST_MM, c->diameter_mm[best]);
        out->healthy_mm[k][at] = c->reference_mm ? c->reference_mm[best] : limb->reference_mm.q.value;
    }
}

static void make_curve(const bk_limb_facts *limb, int k, bk_flow_scene *out)
{
    // an occlusion of unknown length is drawn as if there were none: only ends that leave it closed may use it
    const bool none = lesion_free(limb) || !bk_has(limb->lesion_length_mm.q);
    const double lesion = none ? 0 : limb->lesion_length_mm.q.value;
    const double reference = limb->reference_mm.q.value, depth = reference - fmin(reference, out->mld_mm[k]);
    double length = lesion + BEYOND_MM;
    out->lesion_unknown[k] = !lesion_free(limb) && none;
    out->length_assumed[k] = !bk_has(limb->length_mm.q);
    if (!out->length_assumed[k])
        length = fmax(limb->length_mm.q.value, lesion + 1);
    for (int i = 0; i < N; i++) {
        // the lesion reaches the bifurcation; half of the samples are spent on it
        const double half = N / 2.0;
        const double x = lesion <= 0  ? length * i / (N - 1)
                         : i <= N / 2 ? lesion * i / half
                                      : lesion + (length - lesion) * (i - half) / (N - 1 - half);
        const bool inside = x < lesion;
        const int at = k == BK_PROXIMAL ? N - 1 - i : i;
        out->position_mm[k][at] = k == BK_PROXIMAL ? length - x : x;
        out->healthy_mm[k][at] = reference;
        out->diameter_mm[k][at] = inside ? reference - depth * (1 - cos(2 * PI * x / lesion)) / 2 : reference;
    }
}

static void take_lumen(const bk_limb_facts *limb, int k, double visual_sd_pct, bk_flow_scene *out)
{
    const bk_qty mld = limb->mld_mm.q, reference = limb->reference_mm.q;
    const double by_eye = reference.value * visual_sd_pct / 100;
    out->reference_mm[k] = reference.value;
    out->reference_sd[k] = isnan(reference.sd) ? 0 : reference.sd;
    out->occluded[k] = limb->occluded == BK_YES;
    out->mld_mm[k] = bk_has(mld) ? fmin(mld.value, reference.value) : 0;
    out->mld_sd[k] = !bk_has(mld) ? 0 : !isnan(mld.sd) ? mld.sd : mld.origin == BK_VISUAL ? by_eye : 0;
    out->wedge_mmhg[k] = limb->wedge_mmhg;
    out->simple[k] = limb->curve.n < 2;
    if (out->simple[k])
        make_curve(limb, k, out);
    else
        take_curve(limb, k, out);
}

/* Angles are measured backwards from the branch point; the parent's axis goes on straight from there, wherever the
   other daughter bends to. */
static void take_angle(bk_qty with_parent, int k, bk_flow_scene *out)
{
    out->shift_deg[k] = with_parent;
    out->shift_deg[k].value = 180 - with_parent.value;
    out->two_views[k] = with_parent.origin == BK_MEASURED;
}

static void take_stents(const bk_decision *decision, const bk_evidence_set *evidence, bk_flow_scene *out)
{
    const bk_strategy_traits strategy = bk_strategy_find(decision->strategy);
    const double step = bk_evidence_value(evidence, BK_EVIDENCE("size_step"));
    bk_qty named[BK_LIMBS];
    named[BK_PROXIMAL] = decision->pot_balloon_mm;
    named[strategy.axis] = decision->main_stent_mm;
    named[strategy.other] = decision->side_stent_mm;
    for (int k = 0; k < BK_LIMBS; k++) {
        const double sized = bk_nominal_size(out->reference_mm[k], step);
        out->stent_mm[k] = bk_has(named[k]) ? named[k] : bk_qty_of(sized, 0, BK_DERIVED);
        out->landing_mm[k] = (double)NAN;
    }
    if (bk_has(decision->landing_proximal_mm))
        out->landing_mm[BK_PROXIMAL] = decision->landing_proximal_mm.value;
    if (bk_has(decision->landing_distal_mm))
        out->landing_mm[strategy.axis] = decision->landing_distal_mm.value;
    out->usual_landing_mm = bk_evidence_value(evidence, BK_EVIDENCE("landing_proximal"));
}

static bk_flow_rows rows_of(const bk_evidence_set *e)
{
    return (bk_flow_rows){.viscosity = bk_evidence_find(e, BK_EVIDENCE("flow_viscosity")),
                          .aortic = bk_evidence_find(e, BK_EVIDENCE("flow_aortic")),
                          .venous = bk_evidence_find(e, BK_EVIDENCE("flow_venous")),
                          .split = bk_evidence_find(e, BK_EVIDENCE("flow_split")),
                          .recoil = bk_evidence_find(e, BK_EVIDENCE("stent_recoil")),
                          .residual = bk_evidence_find(e, BK_EVIDENCE("residual_balloon")),
                          .residual_drug = bk_evidence_find(e, BK_EVIDENCE("residual_drug_balloon")),
                          .collateral = bk_evidence_find(e, BK_EVIDENCE("collateral_index")),
                          .reserve = bk_evidence_find(e, BK_EVIDENCE("flow_reserve")),
                          .density = bk_evidence_value(e, BK_EVIDENCE("flow_density"))};
}

bk_flow_scene bk_flow_scene_of(const bk_case *c, const bk_facts *facts, const bk_evidence_set *evidence)
{
    bk_flow_scene out = {.site = c->anatomy.site, .rows = rows_of(evidence)};
    out.scale_sd = isnan(facts->scale_sd_pct) ? 0 : facts->scale_sd_pct / 100;
    for (int k = 0; k < BK_LIMBS; k++) {
        take_lumen(&facts->limb[k], k, bk_evidence_value(evidence, BK_EVIDENCE("visual_stenosis_sd")), &out);
        out.vessel[k] = bk_vessel_of(out.site, k, facts->dominance, evidence);
    }
    if (bk_has(facts->proximal_side_deg.q))
        take_angle(facts->proximal_side_deg.q, BK_SIDE, &out);
    if (bk_has(facts->proximal_distal_deg.q))
        take_angle(facts->proximal_distal_deg.q, BK_DISTAL, &out);
    take_stents(&c->decision, evidence, &out);
    out.aortic_mmhg = c->patient.aortic_mean_mmhg;
    out.lv_mass_g = c->patient.lv_mass_g;
    out.collaterals = c->anatomy.collaterals == COLLATERALS_RECEIVES;
    // one velocity tells the flow of one vessel: at the left main there are two
    out.front_cm_s = out.site == BK_LEFT_MAIN ? bk_qty_absent() : c->anatomy.front_velocity_cm_s;
    out.calibre_mm = bk_calibre_mm(&out.vessel[BK_SIDE], c->patient.sex, evidence);
    return out;
}

int bk_flow_single_limb(const bk_flow_scene *scene)
{
    int found = -1, count = 0;
    for (int k = 0; k < BK_LIMBS; k++)
        if (scene->occluded[k] || scene->mld_mm[k] <= (1 - SIGNIFICANT) * scene->reference_mm[k]) {
            found = k;
            count++;
        }
    return count == 1 ? found : -1;
}
