/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/risk/proportion.h"

#include <math.h>

#include "core/num.h"

bk_proportion bk_wilson(double events, double n)
{
    const double z = bk_normal_quantile(0.5 + BK_COUNT_LEVEL_PCT / 200.0), p = events / n, zz = z * z;
    const double middle = p + zz / (2 * n), half = z * sqrt(p * (1 - p) / n + zz / (4 * n * n));
    const double low = (middle - half) / (1 + zz / n), high = (middle + half) / (1 + zz / n);
    return (bk_proportion){100 * p, events <= 0 ? 0 : 100 * low, events >= n ? 100 : 100 * high};
}
