/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/flow/scene.h"

#include <math.h>

#define PI 3.14159265358979323846
#define MM 1e-3
#define ML_PER_MIN (1e-6 / 60)
#define BEYOND_MM 10.0 /* healthy vessel behind a lesion where no limb length is known: choice of this project */
#define OSTIUM_MM 1.0  /* length of a carina-shifted ostium: choice of this project, "very short" in the source */
#define TWO_VIEWS_ROUNDNESS 0.25 /* how far the ellipse may be off with two views: choice of this project */
#define SMALLEST_MM 0.05

enum { N = BK_FLOW_SAMPLES_ALONG };

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

bk_vessel_rows bk_vessel_of(int site, int limb)
{
    const bk_vessel_rows lad = {BK_EVIDENCE("territory_lad"), BK_EVIDENCE("flow_per_gram_lad")};
    const bk_vessel_rows lcx = {BK_EVIDENCE("territory_lcx"), BK_EVIDENCE("flow_per_gram_lcx")};
    const bk_vessel_rows rca = {BK_EVIDENCE("territory_rca"), BK_EVIDENCE("flow_per_gram_rca")};
    switch (site) {
    case BK_LEFT_MAIN:
        return limb == BK_SIDE ? lcx : lad;
    case BK_LAD_DIAGONAL:
        return lad;
    case BK_LCX_MARGINAL:
        return lcx;
    case BK_RCA_CRUX:
        return rca;
    default:
        return (bk_vessel_rows){NULL, NULL};
    }
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
    const double lesion = lesion_free(limb) ? 0 : limb->lesion_length_mm.q.value;
    const double reference = limb->reference_mm.q.value, depth = reference - fmin(reference, out->mld_mm[k]);
    double length = lesion + BEYOND_MM;
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

bk_flow_scene bk_flow_scene_of(const bk_facts *facts, int site, double visual_sd_pct)
{
    bk_flow_scene out = {.site = site, .shift_deg = (double)NAN};
    out.scale_sd = isnan(facts->scale_sd_pct) ? 0 : facts->scale_sd_pct / 100;
    for (int k = 0; k < BK_LIMBS; k++) {
        const bk_limb_facts *limb = &facts->limb[k];
        const bk_qty mld = limb->mld_mm.q, reference = limb->reference_mm.q;
        out.reference_mm[k] = reference.value;
        out.reference_sd[k] = isnan(reference.sd) ? 0 : reference.sd;
        out.occluded[k] = limb->occluded == BK_YES;
        out.mld_mm[k] = bk_has(mld) ? fmin(mld.value, reference.value) : 0;
        const double by_eye = reference.value * visual_sd_pct / 100;
        out.mld_sd[k] = !bk_has(mld) ? 0 : !isnan(mld.sd) ? mld.sd : mld.origin == BK_VISUAL ? by_eye : 0;
        out.simple[k] = limb->curve.n < 2;
        if (out.simple[k])
            make_curve(limb, k, &out);
        else
            take_curve(limb, k, &out);
    }
    if (bk_has(facts->proximal_side_deg.q)) { // measured backwards from the branch point: the parent's axis goes on
        out.shift_deg = 180 - facts->proximal_side_deg.q.value;
        out.shift_sd_deg = isnan(facts->proximal_side_deg.q.sd) ? 0 : facts->proximal_side_deg.q.sd;
        out.two_views = facts->proximal_side_deg.q.origin == BK_MEASURED;
    }
    return out;
}

/* ---- draws ---- */

static double normal(bk_random *random, double mean, double sd)
{
    return random ? mean + sd * bk_random_normal(random) : mean;
}

static double between(bk_random *random, const bk_evidence_set *evidence, const char *id)
{
    const double low = bk_evidence_low(evidence, id), high = bk_evidence_high(evidence, id);
    return random ? bk_random_between(random, low, high) : bk_evidence_value(evidence, id);
}

/* Most often the value, never outside the range. */
static double triangular(bk_random *random, double low, double peak, double high)
{
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

bk_flow_draw bk_flow_draw_of(const bk_flow_scene *scene, const bk_evidence_set *e, bk_random *random)
{
    bk_flow_draw out = {0};
    out.blood.viscosity_pa_s = between(random, e, BK_EVIDENCE("flow_viscosity"));
    out.blood.density_kg_m3 = bk_evidence_value(e, BK_EVIDENCE("flow_density"));
    out.aortic_pa = between(random, e, BK_EVIDENCE("flow_aortic")) * BK_PA_PER_MMHG;
    out.venous_pa = between(random, e, BK_EVIDENCE("flow_venous")) * BK_PA_PER_MMHG;
    const char *split = BK_EVIDENCE("flow_split");
    out.split = triangular(random, bk_evidence_low(e, split), bk_evidence_value(e, split), bk_evidence_high(e, split));
    for (int k = 0; k < 2; k++) {
        const bk_vessel_rows rows = bk_vessel_of(scene->site, BK_DISTAL + k);
        const bk_evidence *grams = bk_evidence_find(e, rows.grams), *per_gram = bk_evidence_find(e, rows.per_gram);
        out.grams[k] = person(random, grams->value, grams->sd);
        out.per_gram[k] = person(random, per_gram->value, per_gram->sd);
        if (k == 1 && scene->site != BK_LEFT_MAIN) { // one vessel, one reading
            out.grams[1] = out.grams[0];
            out.per_gram[1] = out.per_gram[0];
        }
    }
    const double scale = fmax(0.5, normal(random, 1, scene->scale_sd));
    for (int k = 0; k < BK_LIMBS; k++) {
        const double reference = normal(random, scene->reference_mm[k], scene->reference_sd[k]);
        out.reference_mm[k] = scale * fmax(reference, 0.3 * scene->reference_mm[k]);
        const double mld = scale * fmax(SMALLEST_MM, normal(random, scene->mld_mm[k], scene->mld_sd[k]));
        out.mld_mm[k] = fmin(mld, out.reference_mm[k]);
    }
    out.shift_deg = normal(random, scene->shift_deg, scene->shift_sd_deg);
    out.roundness = random ? bk_random_unit(random) * (scene->two_views ? TWO_VIEWS_ROUNDNESS : 1) : 0;
    return out;
}

/* ---- networks ---- */

double bk_carina_stenosis_pct(double shift_deg)
{
    return 100 * fmax(0, cos(fmin(90, fabs(shift_deg)) * PI / 180));
}

double bk_shifted_ostium_mm(double side_mm, double stenosis_pct, double roundness)
{
    const double narrow = side_mm * (1 - stenosis_pct / 100);
    return sqrt(narrow * (side_mm + roundness * (narrow - side_mm)));
}

/* Hyperaemic flows without any epicardial loss. */
static void flows_of(const bk_flow_scene *scene, const bk_flow_draw *draw, double out[2])
{
    if (scene->site == BK_LEFT_MAIN) {
        for (int k = 0; k < 2; k++)
            out[k] = draw->grams[k] * draw->per_gram[k] * ML_PER_MIN;
        return;
    }
    const double ratio = pow(draw->reference_mm[BK_SIDE] / draw->reference_mm[BK_DISTAL], draw->split);
    const double total = draw->grams[0] * draw->per_gram[0] * ML_PER_MIN;
    out[0] = total / (1 + ratio);
    out[1] = total - out[0];
}

/* The curve of one limb in a draw, treated [m]. */
static void curve_of(const bk_flow_scene *scene, const bk_flow_draw *draw, int k, bool open, double open_to,
                     double ostium_mm, double x[N], double d[N], double healthy[N])
{
    const double reference = scene->reference_mm[k], mld = scene->mld_mm[k];
    const double grown = draw->reference_mm[k] / reference;
    // the line that carries the best MLD and reference to the drawn ones
    const double depth = reference - mld;
    const double slope = depth > 0.01 * reference ? (draw->reference_mm[k] - draw->mld_mm[k]) / depth : grown;
    const double at_zero = draw->reference_mm[k] - slope * reference;
    for (int i = 0; i < N; i++) {
        x[i] = scene->position_mm[k][i] * MM;
        healthy[i] = scene->healthy_mm[k][i] * grown * MM;
        d[i] = fmax(SMALLEST_MM, at_zero + slope * scene->diameter_mm[k][i]) * MM;
        if (open)
            d[i] = fmax(d[i], open_to * healthy[i]);
        if (scene->position_mm[k][i] < OSTIUM_MM)
            d[i] = fmin(d[i], ostium_mm * MM);
    }
}

static bk_limb_loss limb_of(const bk_flow_scene *scene, const bk_flow_draw *draw, int k, bool open, double open_to,
                            double ostium_mm)
{
    double x[N], d[N], healthy[N];
    if (scene->occluded[k] && !open)
        return (bk_limb_loss){.occluded = true};
    curve_of(scene, draw, k, open, open_to, ostium_mm, x, d, healthy);
    return bk_limb_loss_of(draw->blood, x, d, healthy, N);
}

void bk_flow_pull_back(const bk_flow_scene *scene, const bk_flow_draw *draw, const bk_network *network, int k,
                       double flow, double drop_pa[N])
{
    double x[N], d[N], healthy[N];
    curve_of(scene, draw, k, false, 1, (double)INFINITY, x, d, healthy);
    bk_pull_back(&network->limb[k], draw->blood, x, d, N, flow, drop_pa);
}

bk_network bk_flow_network_of(const bk_flow_scene *scene, const bk_flow_draw *draw, bk_treatment treatment,
                              double recoil_pct)
{
    bk_network out = {.blood = draw->blood, .aortic_pa = draw->aortic_pa, .venous_pa = draw->venous_pa};
    const double open_to = 1 - recoil_pct / 100;
    const bool main = treatment != BK_UNTREATED;
    double flow[2], ostium = (double)INFINITY;
    flows_of(scene, draw, flow);
    if (treatment == BK_MAIN_STENTED)
        ostium = bk_shifted_ostium_mm(draw->reference_mm[BK_SIDE], bk_carina_stenosis_pct(draw->shift_deg),
                                      draw->roundness);
    for (int k = 0; k < 2; k++)
        out.bed[BK_DISTAL + k] = bk_bed_of(draw->aortic_pa, draw->venous_pa, flow[k]);
    out.limb[BK_PROXIMAL] = limb_of(scene, draw, BK_PROXIMAL, main, open_to, (double)INFINITY);
    out.limb[BK_DISTAL] = limb_of(scene, draw, BK_DISTAL, main, open_to, (double)INFINITY);
    out.limb[BK_SIDE] = limb_of(scene, draw, BK_SIDE, treatment == BK_BOTH_STENTED, open_to,
                                fmax(SMALLEST_MM, ostium));
    return out;
}
