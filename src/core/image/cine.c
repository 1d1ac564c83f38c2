/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/cine.h"

#include <math.h>

double bk_cine_phase_pct(const double *times_ms, size_t n, const int32_t *r_waves, size_t r_waves_n, int32_t frame)
{
    for (size_t i = 0; i + 1 < r_waves_n; i++) {
        const int32_t a = r_waves[i], b = r_waves[i + 1];
        if (a < 1 || b <= a || (size_t)b > n || frame < a || frame >= b)
            continue;
        const double from = times_ms[a - 1], to = times_ms[b - 1];
        return to > from ? 100 * (times_ms[frame - 1] - from) / (to - from) : (double)NAN;
    }
    return NAN;
}
