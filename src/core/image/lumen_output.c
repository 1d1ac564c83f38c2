/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the unknowns to the fitted limb. */
#include <math.h>
#include <string.h>

#include "base/order.h"
#include "core/image/lumen_internal.h"

static bk_status limb_room(bk_lumen_limb *out, bk_arena *arena, bk_err *err)
{
    out->axis = BK_NEW(arena, out->n, bk_pt_px, err);
    out->normal = BK_NEW(arena, out->n, bk_pt_px, err);
    out->diameter_px = BK_NEW(arena, out->n, double, err);
    out->sd_px = BK_NEW(arena, out->n, double, err);
    out->basis = BK_NEW(arena, out->n * out->knots_n, double, err);
    out->covariance = BK_NEW(arena, out->knots_n * out->knots_n, double, err);
    if (out->axis == NULL || out->normal == NULL || out->diameter_px == NULL || out->sd_px == NULL ||
        out->basis == NULL || out->covariance == NULL)
        return BK_E_LIMIT;
    return BK_OK;
}

static void fill_basis(const bk_lumen_layout *layout, double s, double *row)
{
    const double at = fmax((s - layout->start_px) / layout->cell_px, 0.0);
    size_t cell = (size_t)at;
    cell = cell < layout->cells ? cell : layout->cells - 1;
    bk_lumen_bspline(fmin(at - (double)cell, 1.0), row + cell);
}

static double spread_of(const double *basis, const double *covariance, size_t n)
{
    double sum = 0.0;
    size_t first = 0; /* four neighbours are not 0 */
    while (first + 1 < n && basis[first] == 0.0)
        first++;
    const size_t end = first + 4 < n ? first + 4 : n;
    for (size_t p = first; p < end; p++)
        for (size_t q = first; q < end; q++)
            sum += basis[p] * basis[q] * covariance[p * n + q];
    return sqrt(fmax(sum, 0.0));
}

/* Median absorption on the axis: that of the median diameter, with which it grows. */
static bk_status fill_contrast(const bk_lumen_state *state, bk_lumen_limb *out, bk_arena *arena, bk_err *err)
{
    double *const copy = BK_NEW(arena, out->n, double, err);
    if (copy == NULL)
        return BK_E_LIMIT;
    memcpy(copy, out->diameter_px, out->n * sizeof *copy);
    const double usual = fmax(bk_median(copy, out->n), 1e-6), sigma = exp(state->log_sigma);
    out->contrast = bk_lumen_profile_at(state->pool.rule, 0.0, usual, out->density_per_px, sigma).w;
    return BK_OK;
}

bk_status bk_lumen_limb_fill(bk_lumen_state *state, const bk_lumen_normal *normal, size_t limb, const bk_lumen_axis *axis,
                             double step_px, double first_px, double inflation, bk_arena *arena, bk_lumen_limb *out,
                             bk_err *err)
{
    const bk_lumen_layout *const layout = &state->layout[limb];
    const double *const unknown = state->unknown[limb];
    const double end = fmin(layout->start_px + layout->cell_px * (double)(layout->cells - 1),
                            (double)(axis->n - 1) * BK_LUMEN_AXIS_STEP_PX);
    out->step_px = step_px;
    out->first_px = ceil(first_px / step_px - 0.5) * step_px;
    out->n = (size_t)fmax(floor((end - out->first_px) / step_px + 1e-9) + 1.0, 1.0);
    out->knots_n = layout->diameter_n;
    bk_status status = limb_room(out, arena, err);
    if (status != BK_OK)
        return status;
    double *const work = BK_NEW(arena, layout->n * layout->diameter_n, double, err);
    if (work == NULL)
        return BK_E_LIMIT;
    bk_lumen_normal_covariance(normal, limb, layout->diameter, layout->diameter_n, work, out->covariance);
    for (size_t k = 0; k < out->knots_n * out->knots_n; k++)
        out->covariance[k] *= inflation;
    for (size_t k = 0; k < out->n; k++) {
        const double s = out->first_px + (double)k * step_px;
        double *const row = out->basis + k * out->knots_n, slope;
        fill_basis(layout, s, row);
        const double c = bk_lumen_spline_at(layout, unknown, layout->centre, layout->centre_n, BK_LUMEN_CENTRE_CELLS, s);
        const double tx = bk_lumen_series_at(axis->tx, axis->n, s), ty = bk_lumen_series_at(axis->ty, axis->n, s);
        out->normal[k] = (bk_pt_px){ty, -tx};
        out->axis[k] = (bk_pt_px){bk_lumen_series_at(axis->x, axis->n, s) + c * ty,
                                  bk_lumen_series_at(axis->y, axis->n, s) - c * tx};
        const double value = bk_lumen_spline_at(layout, unknown, layout->diameter, layout->diameter_n, 1, s);
        out->diameter_px[k] = bk_lumen_bent(value, state->bend_px, &slope);
        out->sd_px[k] = spread_of(row, out->covariance, out->knots_n);
    }
    out->density_per_px = exp(state->density[limb][0]);
    out->noise = sqrt(inflation);
    return fill_contrast(state, out, arena, err);
}
