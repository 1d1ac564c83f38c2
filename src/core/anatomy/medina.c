/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/medina.h"

#include <math.h>

#include "core/num.h"

static double chance_over(bk_qty stenosis_pct, double threshold_pct)
{
    const double sd = isfinite(stenosis_pct.sd) ? fmax(stenosis_pct.sd, 1e-6) : 1e-6;
    return bk_normal_cdf((stenosis_pct.value - threshold_pct) / sd);
}

void bk_medina_classify(const bk_qty stenosis_pct[BK_LIMBS], double threshold_pct, int digits[BK_LIMBS],
                        bk_medina_way ways[BK_MEDINA_WAYS], int *ways_n)
{
    double over[BK_LIMBS];
    for (int i = 0; i < BK_LIMBS; i++) {
        over[i] = chance_over(stenosis_pct[i], threshold_pct);
        digits[i] = stenosis_pct[i].value >= threshold_pct;
    }
    *ways_n = 0;
    for (int code = 0; code < BK_MEDINA_WAYS; code++) {
        bk_medina_way way = {.probability_pct = 100};
        for (int i = 0; i < BK_LIMBS; i++) {
            way.digits[i] = (code >> i) & 1;
            way.probability_pct *= way.digits[i] ? over[i] : 1 - over[i];
        }
        if (way.probability_pct < 1)
            continue;
        int at = (*ways_n)++;
        for (; at > 0 && ways[at - 1].probability_pct < way.probability_pct; at--)
            ways[at] = ways[at - 1];
        ways[at] = way;
    }
}
