/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Time of one network solve, curve and all, and of what `ask flow` computes with 2,000 samples: bench_flow
   Prints one JSON object; times are of the processor, one thread. */
#include <stdio.h>
#include <time.h>

#include "core/flow/outlook.h"

enum { RUNS = 20000, SAMPLES = 2000 };

static double now_us(void)
{
    struct timespec t;
    (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return 1e6 * (double)t.tv_sec + 1e-3 * (double)t.tv_nsec;
}

static bk_fact given(double value)
{
    return (bk_fact){bk_qty_of(value, (double)NAN, BK_ENTERED), BK_FROM_ANATOMY};
}

/* All ends with their samples: what `ask flow` computes. */
static double outlook_ms(const bk_flow_scene *scene, int samples)
{
    bk_flow_outlook outlook;
    bk_arena arena;
    bk_arena_init(&arena, (size_t)64 << 20);
    const double start = now_us();
    const bk_status status = bk_flow_outlook_of(scene, samples, 1, &arena, &outlook, &(bk_err){0});
    const double ms = (now_us() - start) / 1000;
    bk_arena_clear(&arena);
    return status == BK_OK ? ms : (double)NAN;
}

int main(void)
{
    const double reference[] = {3.5, 3.0, 2.5}, mld[] = {2.4, 1.3, 1.2};
    const bk_fact nothing = {bk_qty_absent(), BK_FROM_NOWHERE};
    bk_facts facts = {.distal_side_deg = nothing, .proximal_side_deg = given(130), .proximal_distal_deg = given(145), .scale_sd_pct = 2, .measurement = -1};
    for (int k = 0; k < BK_LIMBS; k++)
        facts.limb[k] = (bk_limb_facts){.reference_mm = given(reference[k]), .mld_mm = given(mld[k]),
                                        .lesion_length_mm = given(10), .length_mm = given(30)};
    const bk_case c = {.anatomy = {.site = BK_LCX_MARGINAL}};
    const bk_flow_scene scene = bk_flow_scene_of(&c, &facts, bk_evidence_builtin());
    const bk_flow_draw draw = bk_flow_draw_of(&scene, NULL);
    const bk_network network = bk_flow_network_of(&scene, &draw, BK_END_UNTREATED);
    double sum = 0, start = now_us();
    for (int run = 0; run < RUNS; run++)
        sum += bk_network_solve(&network).flow[BK_SIDE];
    const double solve = (now_us() - start) / RUNS;
    start = now_us();
    for (int run = 0; run < RUNS; run++) {
        const bk_network built = bk_flow_network_of(&scene, &draw, BK_END_JAILED);
        sum += bk_network_solve(&built).flow[BK_SIDE];
    }
    const double both = (now_us() - start) / RUNS;
    const double once = outlook_ms(&scene, SAMPLES), thrice = outlook_ms(&scene, 3 * SAMPLES);
    printf("{\"solve_us\":%.2f,\"build_and_solve_us\":%.2f,\"runs\":%d,\"outlook_ms\":%.1f,\"samples\":%d,"
           "\"three_times_the_samples_over_once\":%.2f}\n",
           solve, both, RUNS, once, SAMPLES, thrice / once);
    return sum > 0 ? 0 : 1;
}
