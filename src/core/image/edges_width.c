/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the distances between two edges to a diameter curve. */
#include <math.h>

#include "base/order.h"
#include "core/image/edges_inside.h"
#include "core/image/smooth.h"

#define KNOT_MM 0.7
#define BEND_PER_MM 2.0   /* prior SD of the diameter's second derivative per sqrt(mm): looser than in the model fit, whose readings weigh more */
#define CORRELATED 9      /* SDs of the average along the vessel over which edges err together: noise, texture, the way of the contour */
#define FLOOR_PX 0.15     /* least SD of a width */
#define FLATTEST 0.1      /* strength below which an edge is no worse */
#define NARROW_LEAST 0.7  /* least weight of a reading below the curve: a throat is not to be thrown out, a crossing vessel is */
#define GAIN_MOST 6
#define ROUNDS 5
#define ROUNDS_QUICK 3
#define REACH_MOST 40 /* samples to either side of an average along the vessel */

/* How much worse than at a steep edge of a wide lumen a width is known: a flat edge is found badly, and near the blur the
   true diameter changes much faster than what the edges read. */
static double relative_sd(const bk_edge_finder *f, size_t i, double read)
{
    const double psf = f->psf_px, half = 0.25;
    const double gain = (bk_edge_unblur(f->options->table, read + half, psf) - bk_edge_unblur(f->options->table, read - half, psf)) / (2 * half);
    return fmin(fmax(gain, 1), GAIN_MOST) / sqrt(fmin(fmax(f->strength[i], FLATTEST), 1));
}

static double tukey(double u)
{
    return fabs(u) < 1 ? (1 - u * u) * (1 - u * u) : 0;
}

/* What the edges of a curve would read: lines are averaged along the vessel, and the image is blurred along it too, so a
   short throat reads wider by half the variance times the second derivative. */
static void average_curve(const bk_edge_finder *f, const bk_smooth *smooth, double *curve, double *averaged)
{
    const ptrdiff_t n = (ptrdiff_t)f->axis.n;
    const double sigma = hypot(BK_EDGE_SMOOTH_MM / f->options->mm_per_px, f->psf_px) / f->axis.step_px;
    double weight[REACH_MOST + 1], total = 0;
    const ptrdiff_t half = (ptrdiff_t)fmin(ceil(2.5 * sigma), REACH_MOST);
    for (ptrdiff_t k = 0; k <= half; k++) {
        weight[k] = exp(-0.5 * (double)(k * k) / (sigma * sigma));
        total += k ? 2 * weight[k] : weight[k];
    }
    for (ptrdiff_t i = 0; i < n; i++)
        curve[i] = bk_smooth_value(smooth, (size_t)i);
    for (ptrdiff_t i = 0; i < n; i++) {
        double sum = weight[0] * curve[i];
        for (ptrdiff_t k = 1; k <= half; k++)
            sum += weight[k] * (curve[i - k < 0 ? 0 : i - k] + curve[i + k >= n ? n - 1 : i + k]);
        averaged[i] = sum / total;
    }
}

bk_status bk_edges_fit_widths(const bk_edge_finder *f, bk_arena *arena, bk_lumen_limb *out, bk_err *err)
{
    const size_t n = f->axis.n, trusted = f->options->trusted_from;
    const double mm = f->options->mm_per_px, step = f->axis.step_px;
    /* neighbouring lines err together, so one independent reading is counted for each such length */
    const double share = step / fmax(CORRELATED * BK_EDGE_SMOOTH_MM / mm, step);
    double *width = BK_NEW(arena, n, double, err), *weight = BK_NEW(arena, n, double, err);
    double *relative = BK_NEW(arena, n, double, err), *scratch = BK_NEW(arena, n, double, err);
    double *averaged = BK_NEW(arena, n, double, err), *target = BK_NEW(arena, n, double, err);
    double *curve = BK_NEW(arena, n, double, err);
    if (!width || !weight || !relative || !scratch || !averaged || !target || !curve)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < n; i++) {
        const double read = f->left[i] + f->right[i];
        width[i] = bk_edge_unblur(f->options->table, read, f->psf_px);
        relative[i] = relative_sd(f, i, read);
    }
    bk_smooth smooth = {0};
    double spread = 0.3; /* px; a first guess, then what the readings show */
    const int rounds = f->options->quick ? ROUNDS_QUICK : ROUNDS;
    for (int round = 0; round < rounds; round++) {
        for (size_t i = 0; i < n; i++) {
            const double sd = spread * relative[i], off = round ? (width[i] - averaged[i]) / sd : 0, robust = tukey(off / 4.685);
            target[i] = round ? width[i] + curve[i] - averaged[i] : width[i];
            weight[i] = i < trusted ? 0 : (off < 0 ? fmax(robust, NARROW_LEAST) : robust) * share / (sd * sd);
        }
        const bk_status status = bk_smooth_fit(target, weight, n, step, KNOT_MM / mm, BEND_PER_MM * sqrt(mm), arena,
                                               &smooth, err);
        if (status != BK_OK)
            return status;
        average_curve(f, &smooth, curve, averaged);
        for (size_t i = trusted; i < n; i++)
            scratch[i - trusted] = fabs(width[i] - averaged[i]) / relative[i];
        spread = fmax(1.4826 * bk_median(scratch, n - trusted), FLOOR_PX);
    }
    out->knots_n = smooth.knots_n;
    out->basis = smooth.basis;
    out->covariance = smooth.covariance;
    for (size_t i = 0; i < n; i++) {
        out->diameter_px[i] = fmax(curve[i], 0);
        out->sd_px[i] = bk_smooth_sd(&smooth, i);
    }
    out->noise = spread;
    return BK_OK;
}
