/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/path_length.h"

#include <math.h>

void bk_path_length(const double *xyz, size_t n, double *out)
{
    for (size_t i = 0; i < n; i++) {
        const double *p = xyz + 3 * i;
        out[i] = i == 0 ? 0 : out[i - 1] + hypot(hypot(p[0] - p[-3], p[1] - p[-2]), p[2] - p[-1]);
    }
}
