/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From matches to first curves. */
#include <math.h>

#include "core/anatomy/space/curves_inside.h"

#define CELL_MM 2.5
#define APART_LEAST_DEG 5.0 /* rays nearer to each other cross anywhere; views under 25 degrees are warned of besides */
#define BEYOND_MM 2.0     /* of curve beyond the last match, so that it surely comes to where a view ends */

static bk_status lay_curve(bk_curves *w, size_t limb, const bk_matches *m, bk_arena *arena)
{
    bk_space_curve *const c = &w->fit->limb[limb];
    double length = 0;
    for (size_t k = 1; k < m->n; k++)
        length += bk_vec_length(bk_vec_sub(m->match[k].point, m->match[k - 1].point));
    length += BEYOND_MM;
    const size_t cells = (size_t)fmax(ceil(length / CELL_MM), 1);
    c->n = cells + 3;
    c->end_mm = length;
    c->cell_mm = fmax(length, 0.1) / (double)cells;
    c->coef = BK_NEW(arena, c->n, bk_vec, w->err);
    return c->coef == NULL ? BK_E_LIMIT : BK_OK;
}

/* Running mean of matched points over 2 mm: their steps along the rays are rough. */
static void smooth_points(const bk_matches *m, bk_vec *out)
{
    for (size_t k = 0; k < m->n; k++) {
        const size_t reach = k < 3 ? k : m->n - 1 - k < 3 ? m->n - 1 - k : 3;
        bk_vec sum = bk_vec_of(0, 0, 0);
        for (size_t i = k - reach; i <= k + reach; i++)
            sum = bk_vec_along(sum, 1 / (2 * (double)reach + 1), m->match[i].point);
        out[k] = sum;
    }
}

/* Coefficients near the smoothed points: each is the point at its own place, which is enough to begin with. */
static bk_status first_curve(bk_curves *w, size_t limb, bk_matches *m, bk_arena *room, bk_arena *arena)
{
    bk_vec *const point = BK_NEW(room, m->n, bk_vec, w->err);
    if (point == NULL)
        return BK_E_LIMIT;
    smooth_points(m, point);
    for (size_t k = 0; k < m->n; k++)
        m->match[k].point = point[k];
    bk_status status = lay_curve(w, limb, m, arena);
    if (status != BK_OK)
        return status;
    bk_space_curve *const c = &w->fit->limb[limb];
    double s = 0;
    size_t k = 0;
    for (size_t i = 0; i < c->n; i++) {
        const double wanted = ((double)i - 1) * c->cell_mm;
        double step = 0;
        while (k + 2 < m->n && s + (step = bk_vec_length(bk_vec_sub(point[k + 1], point[k]))) < wanted) {
            s += step;
            k++;
        }
        step = fmax(bk_vec_length(bk_vec_sub(point[k + 1], point[k])), 1e-6);
        c->coef[i] = bk_vec_along(point[k], (wanted - s) / step, bk_vec_sub(point[k + 1], point[k]));
    }
    return BK_OK;
}

/* Feet of the samples in a view: where the matches lie, by length in space. */
static bk_status first_feet(bk_curves *w, size_t limb, size_t view, const bk_matches *m, bk_arena *arena)
{
    bk_space_samples *const samples = &w->fit->samples[limb];
    if (samples->n == 0) {
        samples->n = (size_t)(w->fit->limb[limb].end_mm / BK_CURVES_STEP_MM) + 1;
        samples->step_mm = BK_CURVES_STEP_MM;
    }
    for (size_t side = view == 1 ? 0 : 1; side < 2; side++) {
        double *const arc = BK_NEW(arena, samples->n, double, w->err), s = 0;
        if (arc == NULL)
            return BK_E_LIMIT;
        size_t k = 0;
        for (size_t i = 0; i < samples->n; i++) {
            const double wanted = (double)i * samples->step_mm;
            double step = 0;
            while (k + 2 < m->n && s + (step = bk_vec_length(bk_vec_sub(m->match[k + 1].point, m->match[k].point))) < wanted) {
                s += step;
                k++;
            }
            step = fmax(bk_vec_length(bk_vec_sub(m->match[k + 1].point, m->match[k].point)), 1e-6);
            const double share = fmin(fmax((wanted - s) / step, 0), 1), *const a = m->match[k].arc_px, *const b = m->match[k + 1].arc_px;
            arc[i] = a[side] + share * (b[side] - a[side]);
        }
        samples->arc_px[side == 0 ? 0 : view] = arc;
    }
    return BK_OK;
}

bk_status bk_curves_start(bk_curves *w, bk_arena *room, bk_arena *arena)
{
    bk_space_fit *const fit = w->fit;
    fit->carm[0] = w->sight[0].carm;
    size_t unknown = 0;
    double squares = 0, joined = 0;
    for (size_t view = 1; view < fit->views; view++) {
        const double apart = bk_vec_angle_deg(w->sight[0].carm.beam, w->sight[view].carm.beam);
        if (fmin(apart, 180 - apart) < APART_LEAST_DEG)
            return bk_fail(w->err, BK_E_NOTHING, "views 1 and %zu are %.1f degrees apart, at least %.0f were expected: they show no depth",
                           view + 1, apart, APART_LEAST_DEG);
        w->across[view] = bk_match_across(&w->sight[0].carm, &w->sight[view].carm);
        fit->shift_mm[view] = bk_match_shift(&w->sight[0].carm, w->sight[0].limb[0].axis[0], &w->sight[view].carm, w->sight[view].limb[0].axis[0]);
        fit->carm[view] = bk_curves_carm(w, view, fit->shift_mm[view], fit->turn_deg[view]);
        for (size_t limb = 0; limb < BK_LIMBS; limb++) {
            bk_matches m = {0};
            bk_status status = bk_match_limb(&fit->carm[0], &w->sight[0].limb[limb], &fit->carm[view], &w->sight[view].limb[limb], room, &m, w->err);
            if (status == BK_OK && m.n < 3)
                status = bk_fail(w->err, BK_E_NOTHING, "the %s limb has no stretch that two views share", bk_limb_name((int)limb));
            if (status == BK_OK && view == 1)
                status = first_curve(w, limb, &m, room, arena);
            if (status == BK_OK)
                status = first_feet(w, limb, view, &m, arena);
            if (status != BK_OK)
                return status;
            squares += m.gap_mm * m.gap_mm;
            joined += m.match[m.n - 1].arc_px[0] / bk_sight_length(&w->sight[0].limb[limb]) +
                      m.match[m.n - 1].arc_px[1] / bk_sight_length(&w->sight[view].limb[limb]);
        }
    }
    for (size_t limb = 0; limb < BK_LIMBS; limb++) {
        fit->limb[limb].first = unknown;
        unknown += 3 * fit->limb[limb].n;
    }
    w->first_view = unknown;
    fit->unknowns = unknown + BK_CURVES_PER_VIEW * (fit->views - 1);
    fit->joined = joined / (double)(2 * BK_LIMBS * (fit->views - 1));
    fit->gap_mm = sqrt(squares / (double)(BK_LIMBS * (fit->views - 1)));
    return BK_OK;
}
