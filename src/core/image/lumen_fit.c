/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The joint fit: background and density first, then everything; the axes are re-laid through the fitted centres,
   pixels re-gathered and re-weighted, and the fit is finished. */
#include <math.h>
#include <string.h>

#include "base/order.h"
#include "core/image/lumen_internal.h"

/* Settings in mm at the patient; docs/methods/lumen.md says where each comes from. */
#define KNOT_MM 0.5
#define AXIS_KNOT_MM 2.1
#define THROAT_SHARE 0.6 /* of the median diameter */
#define BESIDE_MM 2.0
#define APART_MM 0.6
#define SCATTER_SIGMA_MM 13.0
#define SCATTER_SD 0.03
#define PSF_SIGMA_MM 0.25
#define DENSITY_PER_MM 0.16
#define BEND_MM 0.2
#define CORNER_SDS 2.5 /* of the prior on bending: where a corner begins */
#define DIAMETER_BEND 1.2 /* per sqrt(mm), of the second derivative */
#define STIFF_BEND 0.03
#define STIFF_CURVE 0.05
#define ROUNDS_DEFAULT 40
#define ROUNDS_FROZEN 1
#define CELLS_MIN 6
#define FROZEN 1e15
#define LOSSY 1.35 /* times the variance: what compression takes away leaves no trace in the residuals (phantoms) */
#define CONTRAST_LEAST 0.02
#define DIAMETER_MOST_MM 12.0 /* wider is a fit gone astray; a giant aneurysm is left to the edges (from memory) */
#define GAIN_FLOOR 1e-7 /* of the mean intensity: a picture without noise must not silence the priors */
#define DAMP_FIRST 1e-3
#define FOLLOW_STEP 0.08 /* of the log of the density */
#define FOLLOW_REACH 0.06
#define ROUGH_REACH 0.2
#define SIGMA_LEAST_PX 0.289 /* 1 / sqrt(12): of the pixel itself, which is part of the blur here */
#define ROUGH 3.0 /* good enough until pixels are weighed anew */
#define FINE 0.02 /* 0.14 SD in the direction that is furthest off */

typedef struct workshop {
    bk_lumen_gather gather;
    bk_lumen_state state;
    bk_lumen_pixels all[BK_LUMEN_LIMBS], few[BK_LUMEN_LIMBS]; /* every pixel; one in four, for the first rounds */
    bk_lumen_normal normal;
    double *trial[BK_LUMEN_LIMBS], *first_try[BK_LUMEN_LIMBS]; /* saved unknowns */
    double density[BK_LUMEN_LIMBS][BK_LUMEN_DENSITY_N], log_sigma, scatter;
    double *scratch; /* one value per pixel of all limbs */
    float *field;    /* an image with a margin */
    bool lossy;
    bool scatter_frozen; /* while the background is stiff, its misfit would go there */
    double mm_per_px, damp, cost, gain_floor;
    int rounds, rounds_max, converged;
    bk_arena *arena, pixel_room; /* the second: what gather_pixels replaces */
    bk_arena_mark pixel_mark;
    bk_err *err;
} workshop;

static bk_status check(const bk_image *image, const bk_lumen_start *start, const bk_lumen_options *options, bk_err *err)
{
    if (!(options->mm_per_px > 0.0) || image->rows < 16 || image->cols < 16)
        return bk_fail(err, BK_E_INTERNAL, "lumen fit called without a scale or an image");
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++) {
        const double length = start[k].n > 1 ? (double)(start[k].n - 1) * start[k].step_px : 0.0;
        if (length - start[k].first_px < (CELLS_MIN + 0.5) * KNOT_MM / options->mm_per_px)
            return bk_fail(err, BK_E_NOTHING,
                           "limb %zu is %.1f mm long beyond the core, at least %.1f mm are needed to fit a lumen", k + 1,
                           fmax(length - start[k].first_px, 0.0) * options->mm_per_px, (CELLS_MIN + 0.5) * KNOT_MM);
    }
    return BK_OK;
}

/* Order coefficients along s by the centre of their support. */
static bk_status order(bk_lumen_layout *layout, bk_arena *arena, bk_err *err)
{
    size_t *const room = BK_NEW(arena, layout->n, size_t, err);
    if (room == NULL)
        return BK_E_LIMIT;
    size_t *list[2 + BK_LUMEN_BACKGROUND_N], count[2 + BK_LUMEN_BACKGROUND_N], next[2 + BK_LUMEN_BACKGROUND_N] = {0};
    count[0] = layout->diameter_n;
    count[1] = layout->centre_n;
    list[0] = layout->diameter = room;
    list[1] = layout->centre = room + count[0];
    for (size_t p = 0; p < BK_LUMEN_BACKGROUND_N; p++) {
        count[2 + p] = layout->background_n;
        list[2 + p] = layout->background[p] = room + count[0] + count[1] + p * layout->background_n;
    }
    for (size_t k = 0; k < layout->n; k++) {
        size_t best = 0;
        double where = 1e30;
        for (size_t q = 0; q < 2 + BK_LUMEN_BACKGROUND_N; q++) {
            const double lead = q < 2 ? 1.0 : 0.5 * (BK_LUMEN_GROUND_DEGREE - 1);
            const double each = q == 0 ? 1.0 : q == 1 ? BK_LUMEN_CENTRE_CELLS : BK_LUMEN_BACKGROUND_CELLS;
            const double centre = ((double)next[q] - lead) * each;
            if (next[q] < count[q] && centre < where) {
                where = centre;
                best = q;
            }
        }
        list[best][next[best]++] = k;
    }
    return BK_OK;
}

static size_t span(size_t low, size_t high)
{
    return high > low ? high - low : low - high;
}

/* Largest index distance between unknowns that share a cell of pixels or a prior on their bending. */
static size_t band_of(const bk_lumen_layout *layout)
{
    static const size_t meets[3] = {BK_LUMEN_MEET_DIAMETER, BK_LUMEN_MEET_CENTRE, BK_LUMEN_GROUND};
    size_t band = 0;
    for (size_t cell = 1; cell + 1 < layout->cells; cell++) {
        size_t low = layout->n, high = 0;
        const size_t *list[2 + BK_LUMEN_BACKGROUND_N] = {layout->diameter + cell - 1,
                                                         layout->centre + cell / BK_LUMEN_CENTRE_CELLS};
        for (size_t p = 0; p < BK_LUMEN_BACKGROUND_N; p++)
            list[2 + p] = layout->background[p] + cell / BK_LUMEN_BACKGROUND_CELLS;
        for (size_t q = 0; q < 2 + BK_LUMEN_BACKGROUND_N; q++)
            for (size_t k = 0; k < meets[q < 2 ? q : 2]; k++) {
                low = list[q][k] < low ? list[q][k] : low;
                high = list[q][k] > high ? list[q][k] : high;
            }
        band = span(low, high) > band ? span(low, high) : band;
    }
    for (size_t p = 0; p < BK_LUMEN_BACKGROUND_N; p++)
        for (size_t k = 0; k + 2 < layout->background_n; k++) {
            const size_t bent = span(layout->background[p][k], layout->background[p][k + 2]);
            band = bent > band ? bent : band;
        }
    return band;
}

static bk_status lay_out(workshop *w, size_t limb, double first_px, double end_px, double mm_per_px)
{
    bk_lumen_layout *const layout = &w->state.layout[limb];
    const double cells = floor((end_px - first_px) * mm_per_px / KNOT_MM + 0.5);
    layout->cell_px = (end_px - first_px) / cells;
    layout->start_px = first_px - layout->cell_px;
    layout->cells = (size_t)cells + 2;
    layout->diameter_n = layout->cells + 3;
    layout->centre_n = (layout->cells + BK_LUMEN_CENTRE_CELLS - 1) / BK_LUMEN_CENTRE_CELLS + 3;
    layout->background_n = (layout->cells + BK_LUMEN_BACKGROUND_CELLS - 1) / BK_LUMEN_BACKGROUND_CELLS + BK_LUMEN_GROUND_DEGREE;
    layout->n = layout->diameter_n + layout->centre_n + BK_LUMEN_BACKGROUND_N * layout->background_n;
    w->gather.from_px[limb] = first_px;
    w->gather.to_px[limb] = end_px;
    w->gather.cell_px[limb] = layout->cell_px;
    bk_status status = order(layout, w->arena, w->err);
    if (status != BK_OK)
        return status;
    layout->band = band_of(layout);
    bk_lumen_normal *const normal = &w->normal;
    normal->n[limb] = layout->n;
    normal->band[limb] = layout->band;
    normal->a[limb] = BK_NEW(w->arena, layout->n * (layout->band + 1), double, w->err);
    normal->border[limb] = BK_NEW(w->arena, layout->n * BK_LUMEN_BORDER_N, double, w->err);
    normal->right[limb] = BK_NEW(w->arena, layout->n, double, w->err);
    w->state.unknown[limb] = BK_NEW(w->arena, layout->n, double, w->err);
    w->state.corner[limb] = BK_NEW(w->arena, layout->diameter_n, double, w->err);
    w->trial[limb] = BK_NEW(w->arena, layout->n, double, w->err);
    w->first_try[limb] = BK_NEW(w->arena, layout->n, double, w->err);
    if (normal->a[limb] == NULL || normal->border[limb] == NULL || normal->right[limb] == NULL ||
        w->state.unknown[limb] == NULL || w->state.corner[limb] == NULL || w->trial[limb] == NULL || w->first_try[limb] == NULL)
        return BK_E_LIMIT;
    for (size_t k = 0; k < layout->diameter_n; k++)
        w->state.corner[limb][k] = 1.0;
    return BK_OK;
}

/* How much a point of the axis says: the middle of a tight throat is hard to tell, that of the lumen either side is not. */
static bk_status weigh_points(workshop *w, const double *diameter, size_t n, double **weight)
{
    *weight = BK_NEW_RAW(w->arena, 2 * n, double, w->err);
    if (*weight == NULL)
        return BK_E_LIMIT;
    double *const copy = *weight + n;
    memcpy(copy, diameter, n * sizeof *copy);
    const double usual = THROAT_SHARE * bk_median(copy, n);
    for (size_t k = 0; k < n; k++) {
        const double share = fmin(fmax(diameter[k] / usual, 0.3), 1.0);
        (*weight)[k] = share * share * share;
    }
    return BK_OK;
}

/* Axis and diameters of a limb as they are given. */
static bk_status take_start(workshop *w, size_t limb, const bk_lumen_start *start, double mm_per_px)
{
    bk_lumen_axis *const axis = &w->gather.axis[limb];
    double *weight;
    bk_status status = weigh_points(w, start->diameter_px, start->n, &weight);
    if (status == BK_OK)
        status = bk_lumen_axis_smooth(start->axis, weight, start->n, AXIS_KNOT_MM / mm_per_px, w->arena, axis, w->err);
    if (status != BK_OK)
        return status;
    w->gather.diameter[limb] = BK_NEW(w->arena, axis->n, double, w->err);
    if (w->gather.diameter[limb] == NULL)
        return BK_E_LIMIT;
    for (size_t k = 0; k < axis->n; k++) {
        const double at = (double)k / (double)(axis->n > 1 ? axis->n - 1 : 1) * (double)(start->n - 1);
        const size_t i = (size_t)at < start->n - 1 ? (size_t)at : start->n - 2;
        const double share = at - (double)i;
        w->gather.diameter[limb][k] = (1.0 - share) * start->diameter_px[i] + share * start->diameter_px[i + 1];
    }
    return BK_OK;
}

static bk_status gather_pixels(workshop *w)
{
    bk_lumen_gather *const g = &w->gather;
    bk_arena *const arena = &w->pixel_room;
    bk_status status = BK_OK;
    bk_arena_rewind(arena, w->pixel_mark);
    for (size_t k = 0; k < BK_LUMEN_LIMBS && status == BK_OK; k++) {
        double widest = 0.0;
        for (size_t i = 0; i < g->axis[k].n; i++)
            widest = fmax(widest, g->diameter[k][i]);
        status = bk_lumen_map_new(&g->axis[k], 0.5 * widest + g->beside_px, g->image->rows, g->image->cols, arena,
                                  &g->map[k], w->err);
    }
    size_t n = 0;
    for (size_t k = 0; k < BK_LUMEN_LIMBS && status == BK_OK; k++) {
        status = bk_lumen_pixels_new(g, k, arena, &w->all[k], w->err);
        if (status == BK_OK)
            status = bk_lumen_pixels_thin(&w->all[k], 2, g->image->cols, arena, &w->few[k], w->err);
        n += w->all[k].n;
    }
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++) /* what the robust weights need besides */
        n += 9 * (g->axis[k].n + 64);
    if (status == BK_OK)
        w->scratch = BK_NEW_RAW(arena, n, double, w->err);
    return status == BK_OK && w->scratch == NULL ? BK_E_LIMIT : status;
}

/* Mean of value - scatter outside the lumen. */
static double outside_level(const bk_lumen_state *state, const bk_lumen_pixels *px, double radius)
{
    double sum = 0.0, count = 0.0;
    for (size_t k = 0; k < px->n; k++) {
        if (px->at[k] < 0 || fabs((double)px->x[k]) < radius)
            continue;
        sum += fmax((double)px->value[k] - state->scatter * (double)px->scatter[k], 0.0);
        count += 1.0;
    }
    return count > 0.0 ? sum / count : 0.0;
}

static bk_status first_values(workshop *w, size_t limb, double mm_per_px)
{
    bk_lumen_state *const state = &w->state;
    const bk_lumen_layout *const layout = &state->layout[limb];
    const bk_lumen_axis *const axis = &w->gather.axis[limb];
    double *const u = state->unknown[limb];
    double widest = 0.0;
    for (size_t k = 0; k < layout->diameter_n; k++) {
        const double s = layout->start_px + ((double)k - 1.0) * layout->cell_px;
        u[layout->diameter[k]] = bk_lumen_series_at(w->gather.diameter[limb], axis->n, s);
        widest = fmax(widest, u[layout->diameter[k]]);
    }
    const double level = outside_level(state, &w->all[limb], 0.5 * widest);
    if (!(level > 0.0))
        return bk_fail(w->err, BK_E_NOTHING, "limb %zu has no bright background beside it, a density needs one", limb + 1);
    for (size_t k = 0; k < layout->background_n; k++)
        u[layout->background[0][k]] = log(level);
    state->density[limb][0] = log(DENSITY_PER_MM * mm_per_px);
    state->density[limb][1] = 0.0;
    return BK_OK;
}

static void set_prior(bk_lumen_prior *prior, double mm_per_px)
{
    const double centre_knot = KNOT_MM * BK_LUMEN_CENTRE_CELLS;
    prior->diameter_bend = DIAMETER_BEND * KNOT_MM * sqrt(KNOT_MM) / mm_per_px;
    prior->centre_bend = centre_knot * sqrt(centre_knot) / mm_per_px / 4.0;
    prior->centre = 1.0 / mm_per_px;
    prior->density_slope = 0.05;
    prior->density_apart = 0.2;
    prior->log_sigma = 0.3;
}

/* A stiff background first, so that what crosses the limb stands out from it; then a pliant one. */
static void set_background(bk_lumen_prior *prior, bool stiff)
{
    for (size_t p = 0; p < BK_LUMEN_BACKGROUND_N; p++) {
        prior->background_bend[p] = stiff ? STIFF_BEND : 0.3;
        prior->background[p] = p == 0 ? 0.0 : !stiff || p == 1 ? 0.5 : STIFF_CURVE;
    }
}

static void keep(workshop *w)
{
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++)
        memcpy(w->trial[k], w->state.unknown[k], w->state.layout[k].n * sizeof(double));
    memcpy(w->density, w->state.density, sizeof w->density);
    w->log_sigma = w->state.log_sigma;
    w->scatter = w->state.scatter;
}

static void restore(workshop *w)
{
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++)
        memcpy(w->state.unknown[k], w->trial[k], w->state.layout[k].n * sizeof(double));
    memcpy(w->state.density, w->density, sizeof w->density);
    w->state.log_sigma = w->log_sigma;
    w->state.scatter = w->scatter;
}

/* Aim the limb's table where its density has left the reach of the Taylor series. Tables are aimed at steps of density,
   so that limbs alike can share one. */
static void follow_limb(bk_lumen_state *state, size_t limb)
{
    const double wanted = state->density[limb][0] + state->log_sigma, reach = state->rough ? ROUGH_REACH : FOLLOW_REACH;
    if (state->table_of[limb] && fabs(wanted - state->table_of[limb]->log_density) < reach)
        return;
    const double aim = FOLLOW_STEP * round(wanted / FOLLOW_STEP);
    bool taken[BK_LUMEN_LIMBS] = {false};
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++)
        if (k != limb && state->table_of[k])
            taken[state->table_of[k] - state->table] = true;
    size_t into = 0;
    while (taken[into])
        into++;
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++)
        if (fabs(state->table[k].log_density - aim) < 0.5 * FOLLOW_STEP)
            into = k;
    state->table_of[limb] = &state->table[into];
    if (!(fabs(state->table[into].log_density - aim) < 0.5 * FOLLOW_STEP))
        bk_lumen_table_aim(&state->table[into], aim);
}

static void follow(workshop *w)
{
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++)
        follow_limb(&w->state, k);
}

static double evaluate(workshop *w, bk_lumen_pixels *pixels)
{
    follow(w);
    return bk_lumen_model_normal(&w->state, pixels, &w->normal);
}

static void damp(workshop *w, bool frozen)
{
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++) {
        const bk_lumen_layout *const layout = &w->state.layout[k];
        const size_t width = layout->band + 1;
        for (size_t i = 0; i < layout->n; i++)
            w->normal.a[k][i * width + layout->band] *= 1.0 + w->damp;
        if (!frozen)
            continue;
        for (size_t i = 0; i < layout->diameter_n; i++)
            w->normal.a[k][layout->diameter[i] * width + layout->band] += FROZEN;
        for (size_t i = 0; i < layout->centre_n; i++)
            w->normal.a[k][layout->centre[i] * width + layout->band] += FROZEN;
        w->normal.corner[bk_lumen_corner_index(k, 1) * (BK_LUMEN_CORNER_N + 1)] += FROZEN;
    }
    for (size_t i = 0; i < BK_LUMEN_CORNER_N; i++)
        w->normal.corner[i * (BK_LUMEN_CORNER_N + 1)] *= 1.0 + w->damp;
    if (frozen)
        w->normal.corner[BK_LUMEN_BLUR * (BK_LUMEN_CORNER_N + 1)] += FROZEN;
    if (frozen || w->scatter_frozen)
        w->normal.corner[BK_LUMEN_SCATTER * (BK_LUMEN_CORNER_N + 1)] += FROZEN;
}

/* Largest of the listed steps. */
static double largest(const double *step, const size_t *index, size_t n)
{
    double most = 0.0;
    for (size_t k = 0; k < n; k++)
        most = fmax(most, fabs(step[index[k]]));
    return most;
}

/* Take the solved step, shortened where it is longer than the linearisation is good for. */
static void take_step(workshop *w)
{
    bk_lumen_state *const state = &w->state;
    double share = 1.0;
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++) {
        const bk_lumen_layout *const layout = &state->layout[k];
        const double d = largest(w->normal.right[k], layout->diameter, layout->diameter_n);
        const double c = largest(w->normal.right[k], layout->centre, layout->centre_n);
        const double m = fabs(w->normal.corner_right[bk_lumen_corner_index(k, 0)]);
        share = fmin(share, fmin(2.0 * state->bend_px / 0.5 / fmax(d, 1e-9), fmin(2.0 / fmax(c, 1e-9), 0.7 / fmax(m, 1e-9))));
    }
    share = fmin(share, 0.25 / fmax(fabs(w->normal.corner_right[BK_LUMEN_BLUR]), 1e-9));
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++) {
        for (size_t i = 0; i < state->layout[k].n; i++)
            state->unknown[k][i] += share * w->normal.right[k][i];
        for (size_t b = 0; b < BK_LUMEN_DENSITY_N; b++)
            state->density[k][b] += share * w->normal.corner_right[bk_lumen_corner_index(k, b)];
    }
    state->log_sigma += share * w->normal.corner_right[BK_LUMEN_BLUR];
    state->scatter += share * w->normal.corner_right[BK_LUMEN_SCATTER];
}

/* Up to `most` damped Gauss-Newton rounds, or until a step promises less than `least` off the cost (a sum of squares in
   SD). The state ends at a point whose normal equations were made, and solved when `converged`. */
static bk_status iterate(workshop *w, bk_lumen_pixels *pixels, int most, double least, bool frozen)
{
    w->cost = evaluate(w, pixels);
    w->converged = 0;
    int refused = 0;
    for (int round = 0; round < most && w->rounds < w->rounds_max && refused < 5; round++) {
        damp(w, frozen);
        if (!bk_lumen_normal_solve(&w->normal))
            return bk_fail(w->err, BK_E_NOTHING, "the lumen fit has no solution here, usable densities are needed");
        if (w->normal.gain < least) {
            w->converged = 1;
            break;
        }
        keep(w);
        take_step(w);
        const double cost = evaluate(w, pixels);
        w->rounds++;
        if (cost <= w->cost * (1.0 + 1e-9)) {
            w->cost = cost;
            w->damp *= 0.2;
            continue;
        }
        restore(w);
        refused++;
        w->damp = fmax(w->damp, 1e-4) * 10.0;
        w->cost = evaluate(w, pixels);
    }
    return BK_OK;
}

/* The few pixels take the weights of the same pixels among all. */
static void pass_weights(const bk_lumen_pixels *all, bk_lumen_pixels *few, float *field)
{
    for (size_t k = 0; k < all->n; k++)
        if (all->at[k] >= 0)
            field[all->at[k]] = all->robust[k];
    for (size_t k = 0; k < few->n; k++)
        if (few->at[k] >= 0)
            few->robust[k] = field[few->at[k]];
    for (size_t k = 0; k < all->n; k++)
        if (all->at[k] >= 0)
            field[all->at[k]] = 0.0F;
}

/* What other limbs absorb, for all pixels and the few. */
static void pass_lost(workshop *w, size_t limb)
{
    const bk_lumen_pixels *const all = &w->all[limb];
    bk_lumen_pixels *const few = &w->few[limb];
    bk_lumen_limb_lost(&w->state, &w->all[limb]);
    for (size_t k = 0; k < all->beside_n; k++)
        w->field[all->at[all->beside[k].pixel]] = all->lost[all->beside[k].pixel];
    for (size_t k = 0; all->beside_n > 0 && k < few->n; k++)
        if (few->at[k] >= 0)
            few->lost[k] = w->field[few->at[k]];
    for (size_t k = 0; k < all->beside_n; k++)
        w->field[all->at[all->beside[k].pixel]] = 0.0F;
}

/* A shoulder of a lesion is a corner: where the diameter bends by more than the prior allows for, the prior gives way. */
static void allow_corners(workshop *w)
{
    for (size_t limb = 0; limb < BK_LUMEN_LIMBS; limb++) {
        const bk_lumen_layout *const l = &w->state.layout[limb];
        const double *const u = w->state.unknown[limb];
        for (size_t k = 0; k + 2 < l->diameter_n; k++) {
            const double bend = u[l->diameter[k]] - 2.0 * u[l->diameter[k + 1]] + u[l->diameter[k + 2]];
            const double z = bend / (CORNER_SDS * w->state.prior.diameter_bend);
            w->state.corner[limb][k] = 1.0 / (1.0 + z * z);
        }
    }
}

/* Gain and correlation from the residuals of all pixels; weights of what the model cannot explain. */
static void settle_noise(workshop *w, bool reweigh)
{
    follow(w);
    if (reweigh)
        allow_corners(w);
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++) {
        pass_lost(w, k);
        (void)bk_lumen_limb_rest(&w->state, k, &w->all[k], NULL);
    }
    const double gain = bk_lumen_noise_gain(w->all, w->gain_floor, w->scratch);
    const bk_lumen_looks looks = {gain, w->mm_per_px, w->gather.image->cols};
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++) {
        if (reweigh) {
            bk_lumen_robust_weights(&w->state, k, &w->all[k], &looks, w->scratch, w->field);
            pass_weights(&w->all[k], &w->few[k], w->field);
        }
    }
    w->state.gain = gain;
}

/* Re-lay the axes through the fitted centres; the arc length of what lies before the limb is kept. */
static bk_status relay(workshop *w, double mm_per_px)
{
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++) {
        bk_lumen_axis *const axis = &w->gather.axis[k];
        const bk_lumen_layout *const layout = &w->state.layout[k];
        const double from = w->gather.from_px[k];
        bk_pt_px *const point = BK_NEW(w->arena, axis->n, bk_pt_px, w->err);
        double *const diameter = BK_NEW(w->arena, axis->n * 2, double, w->err);
        if (point == NULL || diameter == NULL)
            return BK_E_LIMIT;
        for (size_t i = 0; i < axis->n; i++) {
            const double s = (double)i * BK_LUMEN_AXIS_STEP_PX, fade = from > 0.0 ? fmin(1.0, s / from) : 1.0;
            const double c = fade * bk_lumen_spline_at(layout, w->state.unknown[k], layout->centre, layout->centre_n,
                                                       BK_LUMEN_CENTRE_CELLS, s);
            point[i] = (bk_pt_px){axis->x[i] + c * axis->ty[i], axis->y[i] - c * axis->tx[i]};
        }
        const size_t before = axis->n;
        const double *const old = w->gather.diameter[k];
        double *weight;
        bk_status status = weigh_points(w, old, before, &weight);
        if (status == BK_OK)
            status = bk_lumen_axis_smooth(point, weight, before, AXIS_KNOT_MM / mm_per_px, w->arena, axis, w->err);
        if (status != BK_OK)
            return status;
        double *const fresh = BK_NEW(w->arena, axis->n, double, w->err);
        if (fresh == NULL)
            return BK_E_LIMIT;
        for (size_t i = 0; i < axis->n; i++) {
            const double s = (double)i * BK_LUMEN_AXIS_STEP_PX;
            double slope;
            fresh[i] = s < from ? bk_lumen_series_at(old, before, s)
                                : bk_lumen_bent(bk_lumen_spline_at(layout, w->state.unknown[k], layout->diameter,
                                                                   layout->diameter_n, 1, s),
                                                w->state.bend_px, &slope);
        }
        w->gather.diameter[k] = fresh;
        for (size_t i = 0; i < layout->centre_n; i++)
            w->state.unknown[k][layout->centre[i]] = 0.0;
    }
    w->gather.share = true; /* from now on all limbs are known */
    return gather_pixels(w);
}

static double mean_of(const bk_image *image)
{
    double sum = 0.0;
    const size_t n = (size_t)image->rows * (size_t)image->cols;
    for (size_t k = 0; k < n; k++)
        sum += (double)image->px[k];
    return sum / (double)n;
}

static bk_status prepare(workshop *w, const bk_image *image, const bk_lumen_start *start,
                         const bk_lumen_options *options)
{
    const double mm = w->mm_per_px = options->mm_per_px;
    bk_lumen_state *const state = &w->state;
    w->gather.image = image;
    w->gather.mask = options->mask;
    w->lossy = options->lossy;
    state->scatter = state->scatter_start = options->scatter_fraction;
    state->prior.scatter = options->scatter_sd > 0.0 ? options->scatter_sd : SCATTER_SD;
    w->gather.beside_px = BESIDE_MM / mm;
    w->gather.apart_px = APART_MM / mm;
    state->bend_px = BEND_MM / mm;
    state->rows = BK_NEW(w->arena, 1, bk_lumen_rows, w->err);
    if (state->rows == NULL)
        return BK_E_LIMIT;
    set_prior(&state->prior, mm);
    w->gain_floor = GAIN_FLOOR * mean_of(image);
    const double sigma = options->psf_sigma_px > 0.0 ? options->psf_sigma_px : PSF_SIGMA_MM / mm;
    state->log_sigma = state->log_sigma_start = 0.5 * log(sigma * sigma + 1.0 / 12.0);
    bk_status status = bk_lumen_scatter_new(options->whole ? options->whole : image,
                                            options->whole ? options->whole_mask : options->mask, SCATTER_SIGMA_MM / mm,
                                            w->arena, &w->gather.blurred, w->err);
    w->gather.row0 = options->row0;
    w->gather.col0 = options->col0;
    double widest = 0.0;
    for (size_t k = 0; k < BK_LUMEN_LIMBS && status == BK_OK; k++) {
        status = take_start(w, k, &start[k], mm);
        if (status != BK_OK)
            break;
        const bk_lumen_axis *const axis = &w->gather.axis[k];
        status = lay_out(w, k, start[k].first_px, (double)(axis->n - 1) * BK_LUMEN_AXIS_STEP_PX - 0.5, mm);
        for (size_t i = 0; i < axis->n; i++)
            widest = fmax(widest, w->gather.diameter[k][i]);
    }
    if (status == BK_OK)
        status = gather_pixels(w);
    const double *const rule = bk_lumen_rule_new(w->arena, w->err);
    if (status == BK_OK)
        status = rule == NULL ? BK_E_LIMIT : bk_lumen_pool_init(&state->pool, rule, w->arena, w->err);
    for (size_t k = 0; k < BK_LUMEN_LIMBS && status == BK_OK; k++) {
        state->layout[k].window_px = 0.5 * widest + w->gather.beside_px;
        status = bk_lumen_table_init(&state->table[k], &state->pool, 1.6 * widest / SIGMA_LEAST_PX, w->arena, w->err);
        if (status == BK_OK)
            status = first_values(w, k, mm);
    }
    const size_t cols = (size_t)image->cols, margin = BK_LUMEN_LAG * (cols + 1);
    w->field = BK_NEW(w->arena, (size_t)image->rows * cols + 2 * margin, float, w->err);
    if (w->field == NULL)
        return BK_E_LIMIT;
    w->field += margin;
    return status;
}

/* Let the state and the first try change places. */
static void change_places(workshop *w)
{
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++) {
        double *const u = w->state.unknown[k];
        w->state.unknown[k] = w->first_try[k];
        w->first_try[k] = u;
    }
}

/* Look for the lumen of throats afresh; what costs less stays. */
static bk_status try_throats(workshop *w, bk_lumen_pixels *pixels)
{
    bool any = false;
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++) {
        bool found;
        memcpy(w->first_try[k], w->state.unknown[k], w->state.layout[k].n * sizeof(double));
        const bk_status status = bk_lumen_throat_look(&w->state, k, &pixels[k], w->mm_per_px, w->arena, &found, w->err);
        if (status != BK_OK)
            return status;
        any = any || found;
    }
    if (!any)
        return BK_OK;
    change_places(w);
    const double before = evaluate(w, pixels);
    change_places(w);
    w->damp = DAMP_FIRST;
    const bk_status status = iterate(w, pixels, 6, ROUGH, false);
    if (status == BK_OK && w->cost > before)
        change_places(w);
    return status;
}

static bk_status run(workshop *w, double mm_per_px)
{
    w->damp = DAMP_FIRST;
    w->state.gain = 1.0;
    set_background(&w->state.prior, true);
    w->scatter_frozen = true;
    w->state.rough = true;
    settle_noise(w, false);
    bk_status status = iterate(w, w->few, ROUNDS_FROZEN, ROUGH, true);
    for (int k = 0; k < 2 && status == BK_OK; k++) {
        settle_noise(w, k > 0);
        status = iterate(w, w->few, k == 0 ? 6 : 2, ROUGH, false);
            }
    if (status == BK_OK)
        status = relay(w, mm_per_px);
    if (status == BK_OK) {
        settle_noise(w, true);
        status = iterate(w, w->few, 2, ROUGH, false);
        set_background(&w->state.prior, false);
        w->scatter_frozen = false;
    }
    for (int k = 0; k < 3 && status == BK_OK; k++) {
        w->state.rough = k == 0;
        settle_noise(w, true);
        status = iterate(w, k == 0 ? w->few : w->all, k == 0 ? 2 : 4, k < 2 ? ROUGH : FINE, false);
        if (status == BK_OK && k < 2)
            status = try_throats(w, k == 0 ? w->few : w->all);
    }
    return status;
}

static bk_status describe(workshop *w, const bk_lumen_start *start, bk_arena *arena, bk_lumen_fit *out)
{
    double corner[BK_LUMEN_CORNER_N * BK_LUMEN_CORNER_N];
    if (!w->converged && !bk_lumen_normal_solve(&w->normal))
        return bk_fail(w->err, BK_E_NOTHING, "the lumen fit has no solution here, usable densities are needed");
    bk_lumen_corner_covariance(&w->normal, corner);
    memset(out, 0, sizeof *out);
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++) {
        const double inflation = (w->lossy ? LOSSY : 1.0) * bk_lumen_noise_inflation(&w->all[k], w->state.layout[k].n,
                                                                                     w->gather.image->cols, w->field);
        const size_t knots = w->state.layout[k].diameter_n;
        double *const misfit = BK_NEW(w->arena, knots, double, w->err);
        if (misfit == NULL)
            return BK_E_LIMIT;
        bk_lumen_noise_misfit(&w->all[k], w->state.gain, exp(w->state.log_sigma), inflation, knots, misfit);
        const bk_status status =
            bk_lumen_limb_fill(&w->state, &w->normal, k, &w->gather.axis[k], start[k].step_px, start[k].first_px,
                               inflation, misfit, arena, &out->limb[k], w->err);
        if (status != BK_OK)
            return status;
        for (size_t i = 0; i < out->limb[k].n; i++)
            if (!(out->limb[k].diameter_px[i] * w->mm_per_px < DIAMETER_MOST_MM))
                return bk_fail(w->err, BK_E_NOTHING, "limb %zu has no diameter under %.0f mm that fits", k + 1, DIAMETER_MOST_MM);
        if (out->limb[k].contrast < CONTRAST_LEAST)
            return bk_fail(w->err, BK_E_NOTHING, "limb %zu shows %.1f %% contrast, at least %.0f %% are needed to fit a lumen",
                           k + 1, 100.0 * out->limb[k].contrast, 100.0 * CONTRAST_LEAST);
        out->limb[k].density_sd = out->limb[k].density_per_px * sqrt(corner[bk_lumen_corner_index(k, 0) * (BK_LUMEN_CORNER_N + 1)]);
    }
    const double sigma = exp(w->state.log_sigma);
    out->psf_sigma_px = sqrt(fmax(sigma * sigma - 1.0 / 12.0, 0.0));
    out->psf_sd_px = sigma * sqrt(corner[BK_LUMEN_BLUR * (BK_LUMEN_CORNER_N + 1)]);
    out->scatter_fraction = w->state.scatter;
    out->scatter_sd = sqrt(corner[BK_LUMEN_SCATTER * (BK_LUMEN_CORNER_N + 1)]);
    out->noise_gain = w->state.gain;
    out->rounds = w->rounds;
    out->converged = w->converged;
    return BK_OK;
}

bk_status bk_lumen_fit_limbs(const bk_image *intensity, const bk_lumen_start start[BK_LUMEN_LIMBS],
                             const bk_lumen_options *options, bk_arena *arena, bk_lumen_fit *out, bk_err *err)
{
    bk_status status = check(intensity, start, options, err);
    if (status != BK_OK)
        return status;
    bk_arena room = bk_arena_child(arena);
    workshop *const w = BK_NEW(&room, 1, workshop, err);
    if (w == NULL) {
        bk_arena_child_end(&room, arena);
        return BK_E_LIMIT;
    }
    w->arena = &room;
    w->pixel_room = bk_arena_child(&room);
    w->pixel_mark = bk_arena_take_mark(&w->pixel_room);
    w->err = err;
    w->rounds_max = options->rounds_max > 0 ? options->rounds_max : ROUNDS_DEFAULT;
    status = prepare(w, intensity, start, options);
    if (status == BK_OK)
        status = run(w, options->mm_per_px);
    if (status == BK_OK)
        status = describe(w, start, arena, out);
    bk_arena_child_end(&w->pixel_room, &room);
    bk_arena_child_end(&room, arena);
    return status;
}
