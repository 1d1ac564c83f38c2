/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The program's pressure loss along one limb alone, for openfoam/stenoses.py. "density viscosity flow n", then n lines of
   "position diameter reference" in, all SI; the loss in Pa out. */
#include <stdio.h>

#include "core/flow/loss.h"

enum { MOST = 1000 };

int main(void)
{
    double x[MOST], d[MOST], reference[MOST], flow;
    bk_blood blood;
    int n;
    if (scanf("%lf %lf %lf %d", &blood.density_kg_m3, &blood.viscosity_pa_s, &flow, &n) != 4 || n < 2 || n > MOST) { /* allow: a test tool, plain numbers */
        fprintf(stderr, "limb_tool: \"density viscosity flow n\" with n 2 to %d was expected first\n", MOST);
        return 1;
    }
    for (int i = 0; i < n; i++)
        if (scanf("%lf %lf %lf", &x[i], &d[i], &reference[i]) != 3) { /* allow: a test tool, plain numbers */
            fprintf(stderr, "limb_tool: %d lines of \"position diameter reference\" were expected, %d found\n", n, i);
            return 1;
        }
    const bk_limb_loss limb = bk_limb_loss_of(blood, x, d, reference, (size_t)n);
    printf("%.17g\n", bk_limb_loss_at(&limb, blood, flow));
    return 0;
}
