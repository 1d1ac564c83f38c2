/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The noise really present, from what the fit leaves over. */
#include <math.h>

#include "base/order.h"
#include "core/image/lumen_internal.h"

#define MAD_TO_SD 1.482602218505602 /* of a normal distribution */

double bk_lumen_noise_gain(const bk_lumen_pixels *pixels, double *work)
{
    size_t n = 0;
    for (size_t limb = 0; limb < BK_LUMEN_LIMBS; limb++)
        for (size_t k = 0; k < pixels[limb].n; k++)
            if (pixels[limb].at[k] >= 0)
                work[n++] = fabs((double)pixels[limb].rest[k]);
    if (n < 16)
        return 1.0;
    const double sd = MAD_TO_SD * bk_median(work, n);
    return fmax(sd * sd, 1e-9);
}

double bk_lumen_noise_inflation(const bk_lumen_pixels *px, int32_t image_cols, float *work)
{
    double same = 0.0, apart = 0.0;
    for (size_t k = 0; k < px->n; k++)
        if (px->at[k] >= 0)
            work[px->at[k]] = px->robust[k] * px->rest[k] * px->pull[k];
    for (size_t k = 0; k < px->n; k++) {
        if (px->at[k] < 0 || px->pull[k] == 0.0F)
            continue;
        const double here = (double)work[px->at[k]];
        same += here * here;
        for (int32_t dy = -BK_LUMEN_LAG; dy <= BK_LUMEN_LAG; dy++)
            for (int32_t dx = -BK_LUMEN_LAG; dx <= BK_LUMEN_LAG; dx++) {
                if (dx == 0 && dy == 0)
                    continue;
                apart += here * (double)work[(ptrdiff_t)px->at[k] + (ptrdiff_t)dy * image_cols + dx];
            }
    }
    for (size_t k = 0; k < px->n; k++)
        if (px->at[k] >= 0)
            work[px->at[k]] = 0.0F;
    return same > 0.0 ? 1.0 + apart / same : 1.0;
}
