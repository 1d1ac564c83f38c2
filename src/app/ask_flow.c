/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/ask_flow.h"

#include <math.h>
#include <stdlib.h>

#include "core/num.h"

#define MEMORY_CAP ((size_t)256 * 1024 * 1024)
#define SAMPLES 2000 /* each solves nine networks; the ends of the intervals move by less than 0.01 with more */
#define RE_LIMIT 2000 /* laminar laws end here; Young & Tsai reads low from 1000 in the throat */

bk_json *bk_flow_number_json(const bk_flow_number *number, int decimals)
{
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "value", number->value, decimals);
    bk_json_put_fixed(out, "low", number->low, decimals);
    bk_json_put_fixed(out, "high", number->high, decimals);
    bk_json_put_integer(out, "level_pct", BK_LEVEL_PCT);
    return out;
}

void bk_flow_put_limb(bk_json *out, const bk_flow_limb *limb)
{
    bk_json_put(out, "ffr", bk_flow_number_json(&limb->ffr, 3));
    bk_json_put_fixed(out, "flow_ml_min", limb->flow_ml_min.value, 1);
    bk_json_put(out, "flow_interval_ml_min", bk_flow_number_json(&limb->flow_ml_min, 1));
    bk_json_put_fixed(out, "p_le_080_pct", limb->at_most_080_pct, 0);
}

/* What each lesion of a limb takes of the limb's loss at the best values. */
static bk_json *lesions_json(const bk_network *network, const bk_network_state *state, int k)
{
    const bk_limb_loss *limb = &network->limb[k];
    bk_json *out = bk_json_array();
    if (limb->occluded || state->flow[k] < 0)
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
    if (network->limb[k].occluded || network->limb[BK_PROXIMAL].occluded || state->flow[k] < 0)
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

/* What the wire read stands first in the limb; what is computed beside it follows. */
static bk_json *led_by_wire(const bk_case *c, int limb, const bk_flow_limb *computed)
{
    const bk_physiology *wire = bk_flow_measured_before(c, limb);
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "leads", wire ? "measured" : "computed");
    if (wire) {
        bk_json_put_text(out, "measured_index", wire->index == BK_INDEX_FFR ? "ffr" : "resting_ratio");
        bk_json_put_qty(out, "measured", wire->value, 3);
        bk_json_put_fixed(out, "computed_minus_measured",
                          wire->index == BK_INDEX_FFR ? computed->ffr.value - wire->value.value : (double)NAN, 3);
    } else {
        bk_json_put_null(out, "measured");
    }
    bk_flow_put_limb(out, computed);
    return out;
}

static bk_json *before_json(const bk_case *c, const bk_flow_scene *scene, const bk_flow_outlook *outlook,
                            bk_answer *answer)
{
    const bk_flow_draw best = bk_flow_draw_of(scene, NULL);
    const bk_network network = bk_flow_network_of(scene, &best, BK_END_UNTREATED);
    const bk_network_state state = bk_network_solve(&network);
    bk_network rest = network;
    bk_json *out = bk_json_object();
    for (int k = 0; k < BK_LIMBS; k++)
        rest.bed[k] *= bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("flow_rest_ratio"));
    const bk_network_state resting = bk_network_solve(&rest);
    for (int k = 0; k < BK_LIMBS; k++) {
        bk_json *limb = led_by_wire(c, k, &outlook->limb[BK_END_UNTREATED][k]);
        bk_json_put_fixed(limb, "resting_pd_pa", resting.end_pa[k] / rest.aortic_pa, 3);
        bk_json_put(limb, "lesions", lesions_json(&network, &state, k));
        bk_json_put(limb, "pull_back", pull_back_json(scene, &best, &network, &state, k));
        if (state.flow[k] < 0)
            bk_answer_caution(answer, "%s: collaterals push blood back through this limb (flow below 0).", bk_limb_names[k]);
        for (size_t i = 0; i < network.limb[k].n; i++)
            if (bk_reynolds(network.blood, network.limb[k].lesion[i].throat_d_m, state.flow[k]) > RE_LIMIT)
                bk_answer_caution(answer, "%s: the Reynolds number in the throat is above %d, where laminar laws end.",
                                  bk_limb_names[k], RE_LIMIT);
        bk_json_put(out, bk_limb_names[k], limb);
    }
    bk_json_put_fixed(answer->json, "pa_mmhg", best.aortic_pa / BK_PA_PER_MMHG, 1);
    bk_json_put(answer->json, "before", out);
    return other_models(&network);
}

static void answer_flow(const bk_asked *asked, bk_answer *answer)
{
    const bk_flow_scene scene = bk_flow_scene_of(asked->c, asked->facts, bk_evidence_builtin());
    const int samples = asked->samples_said ? asked->sampling.n : SAMPLES;
    bk_flow_outlook outlook;
    bk_arena arena;
    bk_arena_init(&arena, MEMORY_CAP);
    if (bk_flow_outlook_of(&scene, samples, asked->sampling.seed, &arena, &outlook, &(bk_err){0}) != BK_OK)
        abort(); // as every allocation behind a JSON answer
    bk_arena_clear(&arena);
    bk_json_put(answer->json, "other_models_before", before_json(asked->c, &scene, &outlook, answer));
    bk_flow_put_after(&scene, &outlook, answer);
    bk_json_put(answer->json, "assumptions", bk_flow_assumptions(&scene));
    bk_json_put_integer(answer->json, "samples", samples);
    bk_json_put_integer(answer->json, "seed", (int64_t)asked->sampling.seed);
    if (outlook.unsolved)
        bk_answer_caution(answer, "%zu of the sampled networks could not be solved.", outlook.unsolved);
    bk_flow_note(asked->c, asked->facts, &scene, answer);
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
    bk_json_put(answer->json, "further", bk_json_array());
    bk_json_put(answer->json, "assumptions", bk_json_array());
    bk_answer_source(answer, BK_EVIDENCE("flow_class_trial"));
}
