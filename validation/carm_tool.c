/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where two rays meet, for check_triangulation.py.

   Reads lines of 20 numbers: primary, secondary (degrees), SID, SOD, spacing of rows, of columns (mm), rows, columns; the same of the
   second view; x, y in the first, x, y in the second (px). Prints for each line x, y, z and the gap of the rays (mm). */
#include <stdio.h>

#include "core/anatomy/space/carm.h"

enum { VIEW = 8, POINTS = 2 * VIEW, LINE = POINTS + 4 };

static bk_carm carm_of(const double *v)
{
    return (bk_carm){.primary_deg = v[0], .secondary_deg = v[1], .sid_mm = v[2], .sod_mm = v[3], .spacing_mm = {v[4], v[5]},
                     .rows = (int)v[6], .cols = (int)v[7]};
}

int main(void)
{
    double v[LINE];
    size_t n = 0;
    while (scanf("%lf", &v[n]) == 1) {
        if (++n < LINE)
            continue;
        n = 0;
        bk_err err = {0};
        bk_carm a = carm_of(v), b = carm_of(v + VIEW);
        if (bk_carm_set(&a, &err) != BK_OK || bk_carm_set(&b, &err) != BK_OK) {
            fprintf(stderr, "carm_tool: %s\n", err.message);
            return 3;
        }
        double gap = 0;
        const double *const at = v + POINTS;
        const bk_vec p = bk_carm_meet(&a, (bk_pt_px){at[0], at[1]}, &b, (bk_pt_px){at[2], at[3]}, &gap);
        printf("%.17g %.17g %.17g %.17g\n", p.v[0], p.v[1], p.v[2], gap);
    }
    if (n != 0) {
        fprintf(stderr, "carm_tool: a line of %zu numbers was found, %d were expected\n", n, LINE);
        return 3;
    }
    return 0;
}
