/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <string.h>

#include "core/anatomy/space/curves_inside.h"
#include "core/image/smooth.h"

#define ROUNDS 10
#define ENOUGH_MM 5e-3

size_t bk_space_basis(const bk_space_curve *c, double s_mm, double value[4], double slope[4])
{
    const double at = s_mm / c->cell_mm;
    size_t cell = at > 0 ? (size_t)at : 0;
    cell = cell + 4 <= c->n ? cell : c->n - 4;
    const double t = at - (double)cell, u = 1 - t;
    const double v[4] = {u * u * u / 6, (3 * t * t * t - 6 * t * t + 4) / 6, (3 * u * u * u - 6 * u * u + 4) / 6, t * t * t / 6};
    const double d[4] = {-u * u / 2, (3 * t * t - 4 * t) / 2, -(3 * u * u - 4 * u) / 2, t * t / 2};
    for (int k = 0; k < 4; k++) {
        value[k] = v[k];
        slope[k] = d[k] / c->cell_mm;
    }
    return cell;
}

bk_vec bk_space_at(const bk_space_curve *c, double s_mm, bk_vec *slope)
{
    double value[4], rate[4];
    const size_t first = bk_space_basis(c, s_mm, value, rate);
    bk_vec p = bk_vec_of(0, 0, 0), d = p;
    for (size_t k = 0; k < 4; k++) {
        p = bk_vec_along(p, value[k], c->coef[first + k]);
        d = bk_vec_along(d, rate[k], c->coef[first + k]);
    }
    if (slope)
        *slope = d;
    return p;
}

size_t bk_curves_view_unknown(const bk_curves *w, size_t view)
{
    return w->first_view + BK_CURVES_PER_VIEW * (view - 1);
}

bk_carm bk_curves_carm(const bk_curves *w, size_t view, double shift_mm, const double turn_deg[2])
{
    bk_carm carm = w->sight[view].carm;
    bk_err ignored = {0};
    carm.primary_deg += turn_deg[0];
    carm.secondary_deg += turn_deg[1];
    (void)!bk_carm_set(&carm, &ignored); /* its distances were right before */
    return bk_carm_for_moved(&carm, bk_vec_times(shift_mm, w->across[view]));
}

/* The feet move with the curve, a little at a time, and never back. */
static void follow(bk_curves *w)
{
    for (size_t limb = 0; limb < BK_LIMBS; limb++)
        for (size_t view = 0; view < w->fit->views; view++) {
            const bk_space_samples *const samples = &w->fit->samples[limb];
            for (size_t k = 0; k < samples->n; k++) {
                const bk_vec p = bk_space_at(&w->fit->limb[limb], (double)k * samples->step_mm, NULL);
                double *const arc = &samples->arc_px[view][k];
                *arc = bk_sight_foot(&w->sight[view].limb[limb], bk_carm_project(&w->fit->carm[view], p), *arc, 12);
            }
        }
}

static void set_up(bk_curves *w)
{
    bk_space_fit *const fit = w->fit;
    const size_t n = fit->unknowns;
    memset(w->matrix, 0, n * n * sizeof *w->matrix);
    memset(w->right, 0, n * sizeof *w->right);
    w->distance2 = w->distances = 0;
    fit->cost = bk_curves_branch_rows(w) + bk_curves_prior_rows(w);
    for (size_t limb = 0; limb < BK_LIMBS; limb++)
        for (size_t k = 0; k < fit->samples[limb].n; k++)
            fit->cost += bk_curves_sample_rows(w, limb, k);
    fit->rms_px = w->distances > 0 ? sqrt(w->distance2 / w->distances) : 0;
}

/* Largest move of a coefficient [mm]. */
static double take_step(bk_curves *w)
{
    bk_space_fit *const fit = w->fit;
    double largest = 0;
    for (size_t limb = 0; limb < BK_LIMBS; limb++)
        for (size_t k = 0; k < fit->limb[limb].n; k++)
            for (size_t x = 0; x < 3; x++) {
                const double move = w->right[fit->limb[limb].first + 3 * k + x];
                fit->limb[limb].coef[k].v[x] += move;
                largest = fmax(largest, fabs(move));
            }
    for (size_t view = 1; view < fit->views; view++) {
        const double *const move = w->right + bk_curves_view_unknown(w, view);
        fit->shift_mm[view] += move[0];
        fit->turn_deg[view][0] += move[1];
        fit->turn_deg[view][1] += move[2];
        fit->carm[view] = bk_curves_carm(w, view, fit->shift_mm[view], fit->turn_deg[view]);
    }
    return largest;
}

static bk_status undetermined(bk_curves *w)
{
    return bk_fail(w->err, BK_E_NOTHING, "the limbs in space are not determined by these views");
}

static bk_status run(bk_curves *w, bk_arena *room, bk_arena *arena)
{
    bk_status status = bk_curves_start(w, room, arena);
    if (status != BK_OK)
        return status;
    const size_t n = w->fit->unknowns;
    w->matrix = BK_NEW(arena, n * n, double, w->err);
    w->right = BK_NEW(room, n, double, w->err);
    if (!w->matrix || !w->right)
        return BK_E_LIMIT;
    for (int round = 0; round < ROUNDS; round++) {
        follow(w);
        set_up(w);
        if (!bk_solve_positive(w->matrix, n, w->right))
            return undetermined(w);
        if (take_step(w) < ENOUGH_MM)
            break;
    }
    follow(w);
    set_up(w);
    if (!w->options->covariance)
        return BK_OK;
    w->fit->covariance = w->matrix;
    return bk_invert_positive(w->matrix, n) ? BK_OK : undetermined(w);
}

bk_status bk_space_fit_limbs(const bk_sight *sight, size_t views, const bk_space_options *options, bk_arena *arena,
                             bk_space_fit *out, bk_err *err)
{
    *out = (bk_space_fit){.views = views};
    bk_arena room = bk_arena_child(arena);
    bk_curves w = {.sight = sight, .options = options, .fit = out, .err = err};
    const bk_status status = run(&w, &room, arena);
    bk_arena_child_end(&room, arena);
    return status;
}
