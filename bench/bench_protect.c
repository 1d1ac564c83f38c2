/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Time of the rules of protection with certainty, stability and the decisive input: bench_protect
   Prints {"stability_ms":..,"normals_ms":..,"ratio":..,"draws":N}: all of bk_protect_rules at 10,000 draws, and the normal
   numbers of one such run alone; times are of the processor, one thread. */
#include <stdio.h>
#include <time.h>

#include "core/risk/protect.h"

enum { RUNS = 9, DRAWS = 10000 };

static double now_ms(void)
{
    struct timespec t;
    (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

/* Every input near its line, with an SD. */
static bk_risk_inputs near_the_lines(void)
{
    static const double values[BK_RISK_INPUTS] = {3.6, 3.0, 2.1, 62, 58, 40, 61, 5, 6, 8, 70, 10, 60, 130};
    bk_risk_inputs in = {.scale_sd_pct = 3, .trifurcation = BK_NO};
    for (int i = 0; i < BK_RISK_INPUTS; i++)
        in.fact[i] = (bk_fact){bk_qty_of(values[i], values[i] / 20, BK_MEASURED), BK_FROM_ANATOMY};
    for (int limb = 0; limb < BK_LIMBS; limb++) {
        const double reference = values[BK_IN_PROXIMAL_REFERENCE + limb];
        const double stenosis = values[limb == BK_SIDE ? BK_IN_SIDE_STENOSIS : BK_IN_PROXIMAL_STENOSIS + limb];
        in.parts[limb] = (bk_stenosis_parts){true, bk_qty_of(reference * (1 - stenosis / 100), 0.1, BK_MEASURED), 0.1};
    }
    return in;
}

static double best_of(double best, double ms)
{
    return ms < best ? ms : best;
}

int main(void)
{
    const bk_risk_inputs in = near_the_lines();
    double rules_ms = 1e9, normals_ms = 1e9, sum = 0;
    for (int run = 0; run < RUNS; run++) {
        double start = now_ms();
        sum += bk_protect_rules(&in, (bk_sampling){DRAWS, (uint64_t)run}, bk_evidence_builtin()).stable_pct;
        rules_ms = best_of(rules_ms, now_ms() - start);
        bk_random random;
        bk_random_seed(&random, (uint64_t)run);
        start = now_ms();
        for (int i = 0; i < DRAWS * (BK_RISK_INPUTS + 1); i++)
            sum += 1e-9 * bk_random_normal(&random);
        normals_ms = best_of(normals_ms, now_ms() - start);
    }
    printf("{\"stability_ms\":%.2f,\"normals_ms\":%.2f,\"ratio\":%.1f,\"draws\":%d}\n", rules_ms, normals_ms,
           rules_ms / normals_ms, DRAWS);
    return sum > 0 ? 0 : 1;
}
