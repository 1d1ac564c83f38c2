/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Packing alone, for check_packing.py. A line of stdin: n and n diameters; a line of stdout: the tube's
 * diameter. */
#include <stdio.h>

#include "core/plan/packing.h"

int main(void)
{
    int n;
    while (scanf("%d", &n) == 1) {
        double mm[BK_PACKING_MAX];
        if (n < 1 || n > BK_PACKING_MAX) {
            fprintf(stderr, "packing_tool: %d circles were found, 1 to %d were expected\n", n,
                    BK_PACKING_MAX);
            return 3;
        }
        for (int i = 0; i < n; i++)
            if (scanf("%lf", &mm[i]) != 1)
                return 3;
        printf("%.12g\n", bk_packing_diameter(mm, (size_t)n));
    }
    return 0;
}
