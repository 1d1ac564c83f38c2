/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The noise really present, from what the fit leaves over. */
#include <math.h>
#include <string.h>

#include "base/order.h"
#include "core/image/lumen_internal.h"

#define TAKEN 0.35 /* part of the unknowns' share: about 0.5 at lags shorter than the knots, less at longer ones */
#define MAD_TO_SD 1.482602218505602 /* of a normal distribution */

double bk_lumen_noise_gain(const bk_lumen_pixels *pixels, double floor, double *work)
{
    size_t n = 0;
    for (size_t limb = 0; limb < BK_LUMEN_LIMBS; limb++)
        for (size_t k = 0; k < pixels[limb].n; k++)
            if (pixels[limb].at[k] >= 0)
                work[n++] = fabs((double)pixels[limb].rest[k]);
    if (n < 16)
        return fmax(1.0, floor);
    const double sd = MAD_TO_SD * bk_median(work, n);
    return fmax(sd * sd, floor);
}

enum { LAGS = 2 * BK_LUMEN_LAG + 1 };

/* Sum of the products of values that are (dx, dy) apart, up to BK_LUMEN_LAG px. field: as large as the image and 0. */
BK_WIDE static void lagged_products(const bk_lumen_pixels *px, int32_t cols, bool of_pull, float *field, double sum[LAGS][LAGS])
{
    memset(sum, 0, LAGS * LAGS * sizeof sum[0][0]);
    for (size_t k = 0; k < px->n; k++)
        if (px->at[k] >= 0)
            field[px->at[k]] = of_pull ? px->pull[k] : px->robust[k] > 0.99F ? px->rest[k] : 0.0F;
    for (size_t k = 0; k < px->n; k++) {
        const double here = px->at[k] < 0 ? 0.0 : (double)field[px->at[k]];
        if (here == 0.0)
            continue;
        for (ptrdiff_t i = 0; i < LAGS; i++) {
            const float *from = field + (ptrdiff_t)px->at[k] + (i - BK_LUMEN_LAG) * cols - BK_LUMEN_LAG;
            for (ptrdiff_t j = 0; j < LAGS; j++)
                sum[i][j] += here * (double)from[j];
        }
    }
    for (size_t k = 0; k < px->n; k++)
        if (px->at[k] >= 0)
            field[px->at[k]] = 0.0F;
}

/* The variance of a sum of residuals weighed by pull is that of white noise times the sum over lags of rho(lag)
   A(lag) / A(0), rho the autocorrelation of the noise and A that of pull. Residuals of white noise are a little
   anticorrelated, since the fit has taken its unknowns out of them: added back as TAKEN of their share at each lag. */
double bk_lumen_noise_inflation(const bk_lumen_pixels *px, size_t unknowns, int32_t image_cols, float *work)
{
    double rest[LAGS][LAGS], pull[LAGS][LAGS], sum = 0.0;
    lagged_products(px, image_cols, false, work, rest);
    lagged_products(px, image_cols, true, work, pull);
    const double rest_0 = rest[BK_LUMEN_LAG][BK_LUMEN_LAG], pull_0 = pull[BK_LUMEN_LAG][BK_LUMEN_LAG];
    if (!(rest_0 > 0.0) || !(pull_0 > 0.0))
        return 1.0;
    const double taken = TAKEN * (double)unknowns / (double)px->n;
    for (size_t i = 0; i < LAGS; i++)
        for (size_t j = 0; j < LAGS; j++) {
            const bool same = i == BK_LUMEN_LAG && j == BK_LUMEN_LAG;
            sum += (rest[i][j] / rest_0 + (same ? 0.0 : taken)) * pull[i][j] / pull_0;
        }
    return fmax(sum, 1.0);
}
