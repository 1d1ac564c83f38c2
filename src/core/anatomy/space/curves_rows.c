/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The equations of the fit: each a row of derivatives, a rest and an SD. */
#include <math.h>
#include <string.h>

#include "core/anatomy/space/curves_inside.h"

#define AXIS_SD_PX 0.2     /* of the axis of one view, where it is seen; neighbours share it */
#define SHARED_MM 1.5      /* length over which they do */
#define BRANCH_SD_PX 0.4   /* at least, of the branch point of a view */
#define HUBER 3.0          /* SD: further off counts less */
#define BEND_PER_MM 0.08   /* SD of the curvature of a coronary axis, from memory */
#define JOIN_SD_MM 1e-3    /* the three limbs begin at one point */
#define SLIDE_SD_MM 0.1    /* along the curve: nothing is seen of it */
#define ROUND_SD 0.12      /* of a diameter: what two views may differ by where the lumen is not round */
#define ROUND_SD_MM 0.05
#define TURN_STEP_DEG 1e-3

/* One equation: its unknowns and their factors. */
typedef struct row {
    size_t n, index[24];
    double factor[24];
} row;

static void put(row *r, size_t index, double factor)
{
    r->index[r->n] = index;
    r->factor[r->n++] = factor;
}

/* The derivative by a point of a curve, as derivatives by its coefficients. */
static void put_point(row *r, const bk_space_curve *c, double s_mm, bk_vec by)
{
    double value[4], slope[4];
    const size_t first = bk_space_basis(c, s_mm, value, slope);
    for (size_t k = 0; k < 4; k++)
        for (size_t x = 0; x < 3; x++)
            put(r, c->first + 3 * (first + k) + x, value[k] * by.v[x]);
}

/* Add rest = expected - found (to become 0) with weight 1/SD^2; distant ones count less. Returns its cost. */
static double add(bk_curves *w, const row *r, double rest, double sd, bool robust)
{
    const double z = fabs(rest) / sd, share = robust && z > HUBER ? HUBER / z : 1, weight = share / (sd * sd);
    const size_t n = w->fit->unknowns;
    for (size_t i = 0; i < r->n; i++) {
        w->right[r->index[i]] -= weight * r->factor[i] * rest;
        for (size_t j = 0; j < r->n; j++)
            w->matrix[r->index[i] * n + r->index[j]] += weight * r->factor[i] * r->factor[j];
    }
    return share < 1 ? HUBER * (2 * z - HUBER) : z * z;
}

/* Derivatives of the projection of p by the unknowns of a later view, along `direction` in the picture. */
static void put_view(const bk_curves *w, row *r, size_t view, bk_vec p, bk_pt_px direction, double factor)
{
    if (view == 0)
        return;
    const bk_space_fit *const fit = w->fit;
    const bk_pt_px here = bk_carm_project(&fit->carm[view], p);
    for (size_t k = 0; k < BK_CURVES_PER_VIEW; k++) {
        double shift = fit->shift_mm[view], turn[2] = {fit->turn_deg[view][0], fit->turn_deg[view][1]};
        *(k == 0 ? &shift : &turn[k - 1]) += TURN_STEP_DEG;
        const bk_carm carm = bk_curves_carm(w, view, shift, turn);
        const bk_pt_px there = bk_carm_project(&carm, p);
        const double rate = ((there.x - here.x) * direction.x + (there.y - here.y) * direction.y) / TURN_STEP_DEG;
        put(r, bk_curves_view_unknown(w, view) + k, factor * rate);
    }
}

/* What a view sees of a sample. */
typedef struct seen {
    bool there, sized; /* on the limb as this view shows it; beyond the core, so that it has a diameter */
    bk_pt_px normal, tangent;
    double away_px;    /* of the projection from the axis, along the normal */
    double diameter_mm, sd_mm;
    bk_vec dx, dy;     /* derivative of the projection */
    double slope;      /* of the diameter, mm per px of axis */
} seen;

#define END_PX 0.5

static seen look(const bk_curves *w, size_t view, size_t limb, double arc_px, bk_vec p)
{
    const bk_sight_limb *const l = &w->sight[view].limb[limb];
    const bk_carm *const carm = &w->fit->carm[view];
    seen s = {.there = arc_px > 0 && arc_px < bk_sight_length(l) - END_PX, .sized = arc_px >= l->arc_px[l->first]};
    s.sized = s.sized && s.there;
    const bk_pt_px at = bk_carm_project_with(carm, p, &s.dx, &s.dy), foot = bk_sight_point(l, arc_px, &s.tangent);
    s.normal = (bk_pt_px){-s.tangent.y, s.tangent.x};
    s.away_px = (at.x - foot.x) * s.normal.x + (at.y - foot.y) * s.normal.y;
    const double mm = bk_carm_mm_per_px(carm, p);
    s.diameter_mm = mm * bk_sight_at(l, l->diameter_px, arc_px);
    s.sd_mm = mm * bk_sight_at(l, l->sd_px, arc_px);
    s.slope = mm * (bk_sight_at(l, l->diameter_px, arc_px + 2) - bk_sight_at(l, l->diameter_px, arc_px - 2)) / 4;
    return s;
}

static bk_vec across_picture(const seen *s, bk_pt_px direction, double factor)
{
    return bk_vec_times(factor, bk_vec_along(bk_vec_times(direction.x, s->dx), direction.y, s->dy));
}

double bk_curves_sample_rows(bk_curves *w, size_t limb, size_t k)
{
    bk_space_fit *const fit = w->fit;
    const bk_space_curve *const curve = &fit->limb[limb];
    const bk_space_samples *const samples = &fit->samples[limb];
    const double s = (double)k * samples->step_mm, shared = sqrt(SHARED_MM / samples->step_mm);
    bk_vec slope;
    const bk_vec p = bk_space_at(curve, s, &slope);
    seen first = {0};
    double cost = 0;
    for (size_t view = 0; view < fit->views; view++) {
        const seen now = look(w, view, limb, samples->arc_px[view][k], p);
        if (view == 0)
            first = now;
        if (!now.sized)
            continue;
        row r = {0};
        put_point(&r, curve, s, across_picture(&now, now.normal, 1));
        put_view(w, &r, view, p, now.normal, 1);
        cost += add(w, &r, now.away_px, AXIS_SD_PX * shared, true);
        w->distance2 += now.away_px * now.away_px;
        w->distances += 1;
        if (view == 0 || !first.sized)
            continue;
        row d = {0};
        const bk_vec by = bk_vec_along(across_picture(&first, first.tangent, first.slope), -1,
                                       across_picture(&now, now.tangent, now.slope));
        put_point(&d, curve, s, by);
        put_view(w, &d, view, p, now.tangent, -now.slope);
        const double round = ROUND_SD * 0.5 * (first.diameter_mm + now.diameter_mm) + ROUND_SD_MM;
        cost += add(w, &d, first.diameter_mm - now.diameter_mm, shared * sqrt(first.sd_mm * first.sd_mm + now.sd_mm * now.sd_mm + round * round), true);
    }
    if (!first.sized)
        return cost; /* in the core the branch point says where the curve begins */
    row slide = {0};
    put_point(&slide, curve, s, bk_vec_unit(slope));
    (void)add(w, &slide, 0, SLIDE_SD_MM, false);
    return cost;
}

double bk_curves_branch_rows(bk_curves *w)
{
    bk_space_fit *const fit = w->fit;
    const bk_vec p = bk_space_at(&fit->limb[0], 0, NULL);
    double cost = 0;
    for (size_t view = 0; view < fit->views; view++) {
        const bk_pt_px wanted = w->sight[view].limb[0].axis[0];
        bk_vec d[2];
        const bk_pt_px at = bk_carm_project_with(&fit->carm[view], p, &d[0], &d[1]);
        for (int k = 0; k < 2; k++) {
            row r = {0};
            const bk_pt_px along = {k == 0 ? 1 : 0, k == 0 ? 0 : 1};
            put_point(&r, &fit->limb[0], 0, d[k]);
            put_view(w, &r, view, p, along, 1);
            cost += add(w, &r, k == 0 ? at.x - wanted.x : at.y - wanted.y, fmax(w->sight[view].branch_sd_px, BRANCH_SD_PX), true);
        }
    }
    for (size_t limb = 1; limb < BK_LIMBS; limb++) {
        const bk_vec apart = bk_vec_sub(bk_space_at(&fit->limb[limb], 0, NULL), p);
        for (int x = 0; x < 3; x++) {
            row r = {0};
            const bk_vec unit = bk_vec_of(x == 0, x == 1, x == 2);
            put_point(&r, &fit->limb[limb], 0, unit);
            put_point(&r, &fit->limb[0], 0, bk_vec_times(-1, unit));
            (void)add(w, &r, apart.v[x], JOIN_SD_MM, false);
        }
    }
    return cost;
}

double bk_curves_prior_rows(bk_curves *w)
{
    bk_space_fit *const fit = w->fit;
    double cost = 0;
    for (size_t limb = 0; limb < BK_LIMBS; limb++) {
        const bk_space_curve *const c = &fit->limb[limb];
        for (size_t k = 0; k + 2 < c->n; k++)
            for (size_t x = 0; x < 3; x++) {
                row r = {0};
                for (size_t q = 0; q < 3; q++)
                    put(&r, c->first + 3 * (k + q) + x, q == 1 ? -2 : 1);
                const double bend = c->coef[k].v[x] - 2 * c->coef[k + 1].v[x] + c->coef[k + 2].v[x];
                cost += add(w, &r, bend, BEND_PER_MM * c->cell_mm * c->cell_mm, false);
            }
    }
    for (size_t view = 1; view < fit->views; view++)
        for (size_t k = 0; k < BK_CURVES_PER_VIEW; k++) {
            row r = {0};
            put(&r, bk_curves_view_unknown(w, view) + k, 1);
            cost += add(w, &r, k == 0 ? fit->shift_mm[view] : fit->turn_deg[view][k - 1],
                        k == 0 ? w->options->shift_sd_mm : w->options->turn_sd_deg, false);
        }
    return cost;
}
