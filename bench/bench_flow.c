/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Time of one network solve, curve and all: bench_flow
   Prints {"solve_us":..,"build_and_solve_us":..,"runs":N}; times are of the processor, one thread. */
#include <stdio.h>
#include <time.h>

#include "core/flow/scene.h"

enum { RUNS = 20000 };

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

int main(void)
{
    const double reference[] = {3.5, 3.0, 2.5}, mld[] = {2.4, 1.3, 1.2};
    const bk_fact nothing = {bk_qty_absent(), BK_FROM_NOWHERE};
    bk_facts facts = {.distal_side_deg = nothing, .proximal_side_deg = given(130), .scale_sd_pct = 2, .measurement = -1};
    for (int k = 0; k < BK_LIMBS; k++)
        facts.limb[k] = (bk_limb_facts){.reference_mm = given(reference[k]), .mld_mm = given(mld[k]),
                                        .lesion_length_mm = given(10), .length_mm = given(30)};
    const bk_flow_scene scene = bk_flow_scene_of(&facts, BK_LCX_MARGINAL, 8.4);
    const bk_flow_draw draw = bk_flow_draw_of(&scene, bk_evidence_builtin(), NULL);
    const bk_network network = bk_flow_network_of(&scene, &draw, BK_UNTREATED, 5);
    double sum = 0, start = now_us();
    for (int run = 0; run < RUNS; run++)
        sum += bk_network_solve(&network).flow[BK_SIDE];
    const double solve = (now_us() - start) / RUNS;
    start = now_us();
    for (int run = 0; run < RUNS; run++) {
        const bk_network built = bk_flow_network_of(&scene, &draw, BK_MAIN_STENTED, 5);
        sum += bk_network_solve(&built).flow[BK_SIDE];
    }
    printf("{\"solve_us\":%.2f,\"build_and_solve_us\":%.2f,\"runs\":%d}\n", solve, (now_us() - start) / RUNS, RUNS);
    return sum > 0 ? 0 : 1;
}
