/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/ask_flow.h"

#include <math.h>
#include <stdlib.h>

#include "base/order.h"
#include "core/plan/sizing.h"

#define TREAT_AT 0.80
#define RE_LIMIT 2000 /* laminar laws end here; Young & Tsai reads low from 1000 in the throat */

static double ml_per_min(double flow)
{
    return flow * 60e6;
}

/* Ratios Pd/Pa and flows of every sample: [treatment][limb][sample]. */
typedef struct samples {
    double *ffr, *flow;
    size_t n, unsolved;
} samples;

static double *cell(double *all, const samples *s, int treatment, int limb)
{
    return all + ((size_t)treatment * BK_LIMBS + (size_t)limb) * s->n;
}

static samples sample(const bk_flow_scene *scene, bk_sampling sampling, double recoil_pct)
{
    const size_t count = (size_t)BK_TREATMENTS * BK_LIMBS * (size_t)sampling.n;
    samples out = {calloc(count, sizeof(double)), calloc(count, sizeof(double)), (size_t)sampling.n, 0};
    bk_random random;
    bk_random_seed(&random, sampling.seed);
    if (!out.ffr || !out.flow)
        abort(); // as every allocation behind a JSON answer
    for (size_t i = 0; i < out.n; i++) {
        const bk_flow_draw draw = bk_flow_draw_of(scene, bk_evidence_builtin(), &random);
        for (int t = 0; t < BK_TREATMENTS; t++) {
            if (t == BK_MAIN_STENTED && isnan(scene->shift_deg))
                continue;
            const bk_network network = bk_flow_network_of(scene, &draw, (bk_treatment)t, recoil_pct);
            const bk_network_state state = bk_network_solve(&network);
            out.unsolved += !state.solved;
            for (int k = 0; k < BK_LIMBS; k++) {
                cell(out.ffr, &out, t, k)[i] = state.end_pa[k] / draw.aortic_pa;
                cell(out.flow, &out, t, k)[i] = state.flow[k];
            }
        }
    }
    return out;
}

/* Sorts the samples. */
static bk_json *interval(double value, double *all, size_t n, int decimals)
{
    const double tail = (1 - BK_LEVEL_PCT / 100.0) / 2;
    bk_json *out = bk_json_object();
    bk_sort_doubles(all, n);
    bk_json_put_fixed(out, "value", value, decimals);
    bk_json_put_fixed(out, "low", all[(size_t)(tail * (double)(n - 1) + 0.5)], decimals);
    bk_json_put_fixed(out, "high", all[(size_t)((1 - tail) * (double)(n - 1) + 0.5)], decimals);
    bk_json_put_integer(out, "level_pct", BK_LEVEL_PCT);
    return out;
}

static bk_json *limb_json(const bk_network *network, const bk_network_state *state, const samples *s, int t, int k)
{
    bk_json *out = bk_json_object();
    double *ffr = cell(s->ffr, s, t, k), *flow = cell(s->flow, s, t, k);
    size_t below = 0;
    for (size_t i = 0; i < s->n; i++) {
        below += ffr[i] <= TREAT_AT;
        flow[i] = ml_per_min(flow[i]);
    }
    bk_json_put(out, "ffr", interval(state->end_pa[k] / network->aortic_pa, ffr, s->n, 3));
    bk_json_put_fixed(out, "flow_ml_min", ml_per_min(state->flow[k]), 1);
    bk_json_put(out, "flow_interval_ml_min", interval(ml_per_min(state->flow[k]), flow, s->n, 1));
    bk_json_put_fixed(out, "p_le_080_pct", 100 * (double)below / (double)s->n, 0);
    return out;
}

/* What each lesion of a limb takes of the limb's loss at the best values. */
static bk_json *lesions_json(const bk_network *network, const bk_network_state *state, int k)
{
    const bk_limb_loss *limb = &network->limb[k];
    bk_json *out = bk_json_array();
    if (limb->occluded)
        return out;
    const double flow = state->flow[k], whole = bk_limb_loss_at(limb, network->blood, flow);
    for (size_t i = 0; i < limb->n; i++) {
        const bk_flow_lesion *l = &limb->lesion[i];
        const double drop = bk_lesion_loss(limb, network->blood, i, flow) + l->viscous * flow;
        bk_json *item = bk_json_object();
        bk_json_put_fixed(item, "from_mm", l->from_m * 1e3, 1);
        bk_json_put_fixed(item, "to_mm", l->to_m * 1e3, 1);
        bk_json_put_fixed(item, "drop_mmhg", drop / BK_PA_PER_MMHG, 1);
        bk_json_put_fixed(item, "share_of_limb_pct", whole > 0 ? 100 * drop / whole : (double)NAN, 0);
        bk_json_put_fixed(item, "throat_reynolds", bk_reynolds(network->blood, l->throat_d_m, flow), 0);
        bk_json_push(out, item);
    }
    return out;
}

/* Pd/Pa along a limb, from its start. */
static bk_json *pull_back_json(const bk_flow_scene *scene, const bk_flow_draw *draw, const bk_network *network,
                               const bk_network_state *state, int k)
{
    double drop[BK_FLOW_SAMPLES_ALONG];
    if (network->limb[k].occluded || network->limb[BK_PROXIMAL].occluded)
        return bk_json_new_null();
    const double start = k == BK_PROXIMAL ? network->aortic_pa : state->end_pa[BK_PROXIMAL];
    bk_flow_pull_back(scene, draw, network, k, state->flow[k], drop);
    for (int i = 0; i < BK_FLOW_SAMPLES_ALONG; i++)
        drop[i] = (start - drop[i]) / network->aortic_pa;
    bk_json *out = bk_json_object();
    bk_json_put_reals(out, "position_mm", scene->position_mm[k], BK_FLOW_SAMPLES_ALONG, 2);
    bk_json_put_reals(out, "pd_pa", drop, BK_FLOW_SAMPLES_ALONG, 3);
    return out;
}

/* The same network by the two published models. */
static bk_json *other_models(const bk_network *network)
{
    static const struct {
        const char *id;
        bk_loss_model model;
    } others[] = {{"young_tsai", BK_LOSS_YOUNG_TSAI}, {"integral_model", BK_LOSS_INTEGRAL}};
    bk_json *out = bk_json_array();
    for (int i = 0; i < 2; i++) {
        bk_network other = *network;
        bk_json *item = bk_json_object();
        for (int k = 0; k < BK_LIMBS; k++)
            other.limb[k].model = others[i].model;
        const bk_network_state state = bk_network_solve(&other);
        bk_json_put_text(item, "model", others[i].id);
        for (int k = 0; k < BK_LIMBS; k++)
            bk_json_put_fixed(item, bk_limb_names[k], state.solved ? state.end_pa[k] / other.aortic_pa : (double)NAN, 3);
        bk_json_push(out, item);
    }
    return out;
}

static bk_json *before_json(const bk_flow_scene *scene, const bk_flow_draw *draw, const bk_network *network,
                            const samples *s, bk_answer *answer)
{
    const bk_network_state state = bk_network_solve(network);
    bk_network rest = *network;
    bk_json *out = bk_json_object();
    for (int k = 0; k < BK_LIMBS; k++)
        rest.bed[k] *= bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("flow_rest_ratio"));
    const bk_network_state resting = bk_network_solve(&rest);
    for (int k = 0; k < BK_LIMBS; k++) {
        bk_json *limb = limb_json(network, &state, s, BK_UNTREATED, k);
        bk_json_put_fixed(limb, "resting_pd_pa", resting.end_pa[k] / rest.aortic_pa, 3);
        bk_json_put(limb, "lesions", lesions_json(network, &state, k));
        bk_json_put(limb, "pull_back", pull_back_json(scene, draw, network, &state, k));
        for (size_t i = 0; i < network->limb[k].n; i++)
            if (bk_reynolds(network->blood, network->limb[k].lesion[i].throat_d_m, state.flow[k]) > RE_LIMIT)
                bk_answer_caution(answer, "%s: the Reynolds number in the throat is above %d, where laminar laws end.",
                                  bk_limb_names[k], RE_LIMIT);
        bk_json_put(out, bk_limb_names[k], limb);
    }
    return out;
}

static void put_after(bk_json *list, const bk_network *network, const samples *s, bk_treatment t,
                      const char *strategy, const char *const *same)
{
    const bk_network_state state = bk_network_solve(network);
    bk_json *item = bk_json_object(), *same_as = bk_json_array();
    bk_json_put_text(item, "strategy", strategy);
    for (; *same; same++)
        bk_json_push(same_as, bk_json_new_text(*same));
    bk_json_put(item, "same_as", same_as);
    for (int k = BK_DISTAL; k < BK_LIMBS; k++)
        bk_json_put(item, bk_limb_names[k], limb_json(network, &state, s, (int)t, k));
    bk_json_push(list, item);
}

static void answer_flow(const bk_asked *asked, bk_answer *answer)
{
    const bk_case *const c = asked->c;
    const bk_facts *const facts = asked->facts;
    static const char *const one_stent[] = {"provisional_wire", "jailed_balloon", NULL};
    static const char *const two_stents[] = {"tap", "culotte", "dk_culotte", "dk_crush", NULL};
    const bk_evidence_set *evidence = bk_evidence_builtin();
    const double recoil = bk_evidence_value(evidence, BK_EVIDENCE("stent_recoil"));
    const bk_flow_scene scene = bk_flow_scene_of(
        facts, c->anatomy.site, bk_evidence_value(evidence, BK_EVIDENCE("visual_stenosis_sd")));
    const bk_flow_draw best = bk_flow_draw_of(&scene, evidence, NULL);
    samples s = sample(&scene, asked->sampling, recoil);
    bk_json *after = bk_json_array();
    bk_network network = bk_flow_network_of(&scene, &best, BK_UNTREATED, recoil);
    bk_json_put_fixed(answer->json, "pa_mmhg", best.aortic_pa / BK_PA_PER_MMHG, 1);
    bk_json_put(answer->json, "before", before_json(&scene, &best, &network, &s, answer));
    bk_json_put(answer->json, "other_models_before", other_models(&network));
    if (!isnan(scene.shift_deg)) {
        network = bk_flow_network_of(&scene, &best, BK_MAIN_STENTED, recoil);
        put_after(after, &network, &s, BK_MAIN_STENTED, "provisional", one_stent);
    }
    network = bk_flow_network_of(&scene, &best, BK_BOTH_STENTED, recoil);
    put_after(after, &network, &s, BK_BOTH_STENTED, "t", two_stents);
    bk_json_put(answer->json, "after", after);
    bk_json_put(answer->json, "assumptions", bk_flow_assumptions(&scene));
    bk_json_put_integer(answer->json, "samples", asked->sampling.n);
    bk_json_put_integer(answer->json, "seed", (int64_t)asked->sampling.seed);
    if (s.unsolved)
        bk_answer_caution(answer, "%zu of the sampled networks could not be solved.", s.unsolved);
    bk_flow_note(c, facts, &scene, answer);
    free(s.ffr);
    free(s.flow);
}

void bk_answer_flow(const bk_asked *asked, bk_answer *answer)
{
    bk_json_put(answer->json, "measured", bk_flow_measured(asked->c));
    if (bk_flow_can_be_said(asked->c, asked->facts, answer)) {
        answer_flow(asked, answer);
        return;
    }
    bk_json_put_null(answer->json, "pa_mmhg");
    bk_json_put_null(answer->json, "before");
    bk_json_put(answer->json, "after", bk_json_array());
    bk_json_put(answer->json, "assumptions", bk_json_array());
    bk_answer_source(answer, BK_EVIDENCE("flow_class_trial"));
}
