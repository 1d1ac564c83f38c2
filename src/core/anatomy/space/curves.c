/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/space/curves.h"

#include <math.h>
#include <string.h>

#include "core/image/smooth.h"

#define CELL_MM 2.5
#define STEP_MM 0.5
#define BEYOND_MM 2.0     /* of curve beyond the last match, so that it surely comes to where a view ends */
#define AXIS_SD_PX 0.2     /* of the axis of one view, where it is seen; neighbours share it */
#define SHARED_MM 1.5      /* length over which they do */
#define BRANCH_SD_PX 0.4   /* at least, of the branch point of a view */
#define HUBER 3.0          /* SD: further off counts less */
#define BEND_PER_MM 0.08   /* SD of the curvature of a coronary axis, from memory */
#define JOIN_SD_MM 1e-3    /* the three limbs begin at one point */
#define SLIDE_SD_MM 0.1    /* along the curve: nothing is seen of it */
#define ROUND_SD 0.12      /* of a diameter: what two views may differ by where the lumen is not round */
#define ROUND_SD_MM 0.05
#define ROUNDS 10
#define ENOUGH_MM 5e-3
#define TURN_STEP_DEG 1e-3

enum { PER_VIEW = 3 }; /* unknowns of a later view: shift, primary, secondary */

typedef struct workshop {
    const bk_sight *sight;
    const bk_space_options *options;
    bk_space_fit *fit;
    size_t first_view; /* index of the second view's unknowns */
    bk_vec across[BK_SIGHTS_MAX];
    double *matrix, *right; /* the second becomes the step */
    double distance2, distances;
    bk_err *err;
} workshop;

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
static double add(workshop *w, const row *r, double rest, double sd, bool robust)
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

static size_t view_unknown(const workshop *w, size_t view)
{
    return w->first_view + PER_VIEW * (view - 1);
}

/* The C-arm of a later view at its unknowns. */
static bk_carm carm_of(const workshop *w, size_t view, double shift_mm, const double turn_deg[2])
{
    bk_carm carm = w->sight[view].carm;
    bk_err ignored = {0};
    carm.primary_deg += turn_deg[0];
    carm.secondary_deg += turn_deg[1];
    (void)!bk_carm_set(&carm, &ignored); /* its distances were right before */
    return bk_carm_for_moved(&carm, bk_vec_times(shift_mm, w->across[view]));
}

/* Derivatives of the projection of p by the unknowns of a later view, along `direction` in the picture. */
static void put_view(const workshop *w, row *r, size_t view, bk_vec p, bk_pt_px direction, double factor)
{
    if (view == 0)
        return;
    const bk_space_fit *const fit = w->fit;
    const bk_pt_px here = bk_carm_project(&fit->carm[view], p);
    for (size_t k = 0; k < PER_VIEW; k++) {
        double shift = fit->shift_mm[view], turn[2] = {fit->turn_deg[view][0], fit->turn_deg[view][1]};
        *(k == 0 ? &shift : &turn[k - 1]) += TURN_STEP_DEG;
        const bk_carm carm = carm_of(w, view, shift, turn);
        const bk_pt_px there = bk_carm_project(&carm, p);
        const double rate = ((there.x - here.x) * direction.x + (there.y - here.y) * direction.y) / TURN_STEP_DEG;
        put(r, view_unknown(w, view) + k, factor * rate);
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

static seen look(const workshop *w, size_t view, size_t limb, double arc_px, bk_vec p)
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

static double sample_rows(workshop *w, size_t limb, size_t k)
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

static double branch_rows(workshop *w)
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

static double prior_rows(workshop *w)
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
        for (size_t k = 0; k < PER_VIEW; k++) {
            row r = {0};
            put(&r, view_unknown(w, view) + k, 1);
            cost += add(w, &r, k == 0 ? fit->shift_mm[view] : fit->turn_deg[view][k - 1],
                        k == 0 ? w->options->shift_sd_mm : w->options->turn_sd_deg, false);
        }
    return cost;
}

/* The feet move with the curve, a little at a time, and never back. */
static void follow(workshop *w)
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

static void set_up(workshop *w)
{
    bk_space_fit *const fit = w->fit;
    const size_t n = fit->unknowns;
    memset(w->matrix, 0, n * n * sizeof *w->matrix);
    memset(w->right, 0, n * sizeof *w->right);
    w->distance2 = w->distances = 0;
    fit->cost = branch_rows(w) + prior_rows(w);
    for (size_t limb = 0; limb < BK_LIMBS; limb++)
        for (size_t k = 0; k < fit->samples[limb].n; k++)
            fit->cost += sample_rows(w, limb, k);
    fit->rms_px = w->distances > 0 ? sqrt(w->distance2 / w->distances) : 0;
}

/* Largest move of a coefficient [mm]. */
static double take_step(workshop *w)
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
        const double *const move = w->right + view_unknown(w, view);
        fit->shift_mm[view] += move[0];
        fit->turn_deg[view][0] += move[1];
        fit->turn_deg[view][1] += move[2];
        fit->carm[view] = carm_of(w, view, fit->shift_mm[view], fit->turn_deg[view]);
    }
    return largest;
}

static bk_status undetermined(workshop *w)
{
    return bk_fail(w->err, BK_E_NOTHING, "the limbs in space are not determined by these views");
}

/* ---- the start: matches to curves ---- */

static bk_status lay_curve(workshop *w, size_t limb, const bk_matches *m, bk_arena *arena)
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
static bk_status first_curve(workshop *w, size_t limb, bk_matches *m, bk_arena *room, bk_arena *arena)
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
static bk_status first_feet(workshop *w, size_t limb, size_t view, const bk_matches *m, bk_arena *arena)
{
    bk_space_samples *const samples = &w->fit->samples[limb];
    if (samples->n == 0) {
        samples->n = (size_t)(w->fit->limb[limb].end_mm / STEP_MM) + 1;
        samples->step_mm = STEP_MM;
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

static bk_status start(workshop *w, bk_arena *room, bk_arena *arena)
{
    bk_space_fit *const fit = w->fit;
    fit->carm[0] = w->sight[0].carm;
    size_t unknown = 0;
    double squares = 0, joined = 0;
    for (size_t view = 1; view < fit->views; view++) {
        w->across[view] = bk_match_across(&w->sight[0].carm, &w->sight[view].carm);
        fit->shift_mm[view] = bk_match_shift(&w->sight[0].carm, w->sight[0].limb[0].axis[0], &w->sight[view].carm, w->sight[view].limb[0].axis[0]);
        fit->carm[view] = carm_of(w, view, fit->shift_mm[view], fit->turn_deg[view]);
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
    fit->unknowns = unknown + PER_VIEW * (fit->views - 1);
    fit->joined = joined / (double)(2 * BK_LIMBS * (fit->views - 1));
    fit->gap_mm = sqrt(squares / (double)(BK_LIMBS * (fit->views - 1)));
    return BK_OK;
}

static bk_status run(workshop *w, bk_arena *room, bk_arena *arena)
{
    bk_status status = start(w, room, arena);
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
    workshop w = {.sight = sight, .options = options, .fit = out, .err = err};
    const bk_status status = run(&w, &room, arena);
    bk_arena_child_end(&room, arena);
    return status;
}
