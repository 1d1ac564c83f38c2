/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/flow/outlook.h"

#include <math.h>

#include "base/order.h"
#include "core/num.h"

static double ml_per_min(double flow)
{
    return flow * 60e6;
}

typedef struct samples { /* of one end */
    double *ffr[BK_LIMBS], *flow[BK_LIMBS];
    size_t n;
} samples;

static bk_status make_room(bk_arena *arena, int n, samples *out, bk_err *err)
{
    out->n = (size_t)n;
    for (int k = 0; k < BK_LIMBS; k++) {
        out->ffr[k] = BK_NEW_RAW(arena, n, double, err);
        out->flow[k] = out->ffr[k] ? BK_NEW_RAW(arena, n, double, err) : NULL;
        if (!out->flow[k])
            return err->status;
    }
    return BK_OK;
}

/* The same seed for every end: they see the same draws. */
static size_t fill(const bk_flow_scene *scene, bk_end end, uint64_t seed, samples *s)
{
    size_t unsolved = 0;
    bk_random random;
    bk_random_seed(&random, seed);
    for (size_t i = 0; i < s->n; i++) {
        const bk_flow_draw draw = bk_flow_draw_of(scene, &random);
        const bk_network network = bk_flow_network_of(scene, &draw, end);
        const bk_network_state state = bk_network_solve(&network);
        unsolved += !state.solved;
        for (int k = 0; k < BK_LIMBS; k++) {
            s->ffr[k][i] = state.end_pa[k] / draw.aortic_pa;
            s->flow[k][i] = ml_per_min(state.flow[k]);
        }
    }
    return unsolved;
}

/* Sorts the samples. */
static bk_flow_number number_of(double value, double *all, size_t n)
{
    const double tail = (1 - BK_LEVEL_PCT / 100.0) / 2;
    bk_sort_doubles(all, n);
    return (bk_flow_number){value, all[(size_t)(tail * (double)(n - 1) + 0.5)],
                            all[(size_t)((1 - tail) * (double)(n - 1) + 0.5)]};
}

static void sum_up(const bk_flow_scene *scene, bk_end end, samples *s, bk_flow_limb out[BK_LIMBS])
{
    const bk_flow_draw best = bk_flow_draw_of(scene, NULL);
    const bk_network network = bk_flow_network_of(scene, &best, end);
    const bk_network_state state = bk_network_solve(&network);
    for (int k = 0; k < BK_LIMBS; k++) {
        size_t low = 0;
        for (size_t i = 0; i < s->n; i++)
            low += s->ffr[k][i] <= BK_FFR_TREAT_AT;
        out[k] = (bk_flow_limb){number_of(state.end_pa[k] / best.aortic_pa, s->ffr[k], s->n),
                                number_of(ml_per_min(state.flow[k]), s->flow[k], s->n),
                                100 * (double)low / (double)s->n};
    }
}

bk_status bk_flow_outlook_of(const bk_flow_scene *scene, int samples_n, uint64_t seed, bk_arena *arena,
                             bk_flow_outlook *out, bk_err *err)
{
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    samples s;
    *out = (bk_flow_outlook){0};
    const bk_status status = make_room(arena, samples_n, &s, err);
    for (int end = 0; status == BK_OK && end < BK_ENDS; end++) {
        out->known[end] = !bk_end_lacks(scene, (bk_end)end);
        if (!out->known[end])
            continue;
        out->unsolved += fill(scene, (bk_end)end, seed, &s);
        sum_up(scene, (bk_end)end, &s, out->limb[end]);
    }
    bk_arena_rewind(arena, mark);
    return status;
}

bk_flow_ostium bk_flow_ostium_of(const bk_flow_scene *scene, bk_end end)
{
    bk_flow_ostium out = {.limb = bk_end_narrows(end)};
    if (out.limb == BK_LIMBS)
        return out;
    bk_flow_draw draw = bk_flow_draw_of(scene, NULL);
    out.stenosis_pct = bk_carina_stenosis_pct(draw.shift_deg[out.limb]);
    double *const ffr[2] = {&out.ffr_oval, &out.ffr_round};
    for (int i = 0; i < 2; i++) {
        draw.roundness[out.limb] = i == 0 ? 0 : bk_roundness_limit(scene->two_views[out.limb]);
        const bk_network network = bk_flow_network_of(scene, &draw, end);
        const bk_network_state state = bk_network_solve(&network);
        *ffr[i] = state.end_pa[out.limb] / draw.aortic_pa;
    }
    return out;
}
