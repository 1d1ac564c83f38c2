/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/stitch.h"

#include <string.h>

static void put_block(double *to, size_t to_cols, size_t row0, size_t col0, const double *from, size_t rows, size_t cols)
{
    for (size_t r = 0; r < rows; r++)
        memcpy(to + (row0 + r) * to_cols + col0, from + r * cols, cols * sizeof *to);
}

bk_status bk_lumen_stitch(const bk_lumen_limb *inner, const bk_lumen_limb *outer, bk_arena *arena, bk_lumen_limb *out,
                          bk_err *err)
{
    const size_t a = inner->n, b = outer->n, n = a + b, ka = inner->knots_n, kb = outer->knots_n, m = ka + kb;
    bk_lumen_limb whole = *inner;
    whole.n = n;
    whole.knots_n = m;
    whole.axis = BK_NEW(arena, n, bk_pt_px, err);
    whole.normal = BK_NEW(arena, n, bk_pt_px, err);
    whole.diameter_px = BK_NEW(arena, n, double, err);
    whole.sd_px = BK_NEW(arena, n, double, err);
    whole.basis = BK_NEW(arena, n * m, double, err);
    whole.covariance = BK_NEW(arena, m * m, double, err);
    whole.misfit = BK_NEW(arena, n, double, err);
    if (!whole.axis || !whole.normal || !whole.diameter_px || !whole.sd_px || !whole.basis || !whole.covariance || !whole.misfit)
        return err ? err->status : BK_E_LIMIT;
    memcpy(whole.axis, inner->axis, a * sizeof *whole.axis);
    memcpy(whole.axis + a, outer->axis, b * sizeof *whole.axis);
    memcpy(whole.normal, inner->normal, a * sizeof *whole.normal);
    memcpy(whole.normal + a, outer->normal, b * sizeof *whole.normal);
    memcpy(whole.diameter_px, inner->diameter_px, a * sizeof *whole.diameter_px);
    memcpy(whole.diameter_px + a, outer->diameter_px, b * sizeof *whole.diameter_px);
    memcpy(whole.sd_px, inner->sd_px, a * sizeof *whole.sd_px);
    memcpy(whole.sd_px + a, outer->sd_px, b * sizeof *whole.sd_px);
    for (size_t k = 0; k < n; k++) {
        const double *const from = k < a ? inner->misfit : outer->misfit;
        whole.misfit[k] = from ? from[k < a ? k : k - a] : 1;
    }
    put_block(whole.basis, m, 0, 0, inner->basis, a, ka);
    put_block(whole.basis, m, a, ka, outer->basis, b, kb);
    put_block(whole.covariance, m, 0, 0, inner->covariance, ka, ka);
    put_block(whole.covariance, m, ka, ka, outer->covariance, kb, kb);
    *out = whole;
    return BK_OK;
}
