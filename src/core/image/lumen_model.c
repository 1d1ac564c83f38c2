/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The model of a pixel, its derivatives, and the normal equations they fill:
       I = (1 - f) exp(b(s, x)) (1 - W) + scatter,
   W the blurred absorption at x - c(s), averaged along the limb with the three Gauss-Hermite points of the blur.
   A pixel meets 6 diameter, 4 centre and 12 background coefficients and the border: all pixels of a cell meet the
   same ones, so a cell sums a small dense matrix that is then added to the band. */
#include <math.h>
#include <string.h>

#include "core/image/lumen_internal.h"

enum {
    DIAMETER = 6,
    CENTRE = 4,
    GROUND = 4 * BK_LUMEN_BACKGROUND_N,
    LOCAL = DIAMETER + CENTRE + GROUND,
    ROW = LOCAL + BK_LUMEN_BORDER_N + 1 /* and the residual */
};
#define ROOT3 1.7320508075688772
#define INTENSITY_FLOOR 1e-3 /* of the background: expected intensities are kept above */

double bk_lumen_bent(double value, double bend_px, double *slope)
{
    if (value >= bend_px) {
        *slope = 1.0;
        return value;
    }
    *slope = exp(fmax(value / bend_px - 1.0, -20.0));
    return bend_px * *slope;
}

double bk_lumen_spline_at(const bk_lumen_layout *layout, const double *unknown, const size_t *index, size_t count,
                          size_t cells_each, double s_px)
{
    const double at = (s_px - layout->start_px) / (layout->cell_px * (double)cells_each);
    size_t cell = at > 0.0 ? (size_t)at : 0;
    cell = cell + 4 <= count ? cell : count - 4;
    double v[4], sum = 0.0;
    bk_lumen_bspline(fmin(fmax(at - (double)cell, 0.0), 1.0), v);
    for (size_t k = 0; k < 4; k++)
        sum += v[k] * unknown[index[cell + k]];
    return sum;
}

/* What is the same for all pixels of a cell. */
typedef struct cell {
    const bk_lumen_layout *layout;
    size_t number;       /* of the diameter spline */
    size_t index[LOCAL]; /* of the unknowns met */
    double value[LOCAL]; /* their present values */
    double reach;        /* of the points along the limb, in cells */
    double sigma;
} cell;

static void cell_begin(cell *c, const bk_lumen_layout *layout, const double *unknown, size_t number, double sigma)
{
    c->layout = layout;
    c->number = number;
    c->sigma = sigma;
    c->reach = fmin(ROOT3 * sigma / layout->cell_px, 0.999);
    size_t *index = c->index;
    for (size_t k = 0; k < DIAMETER; k++)
        *index++ = layout->diameter[number - 1 + k];
    for (size_t k = 0; k < CENTRE; k++)
        *index++ = layout->centre[number / BK_LUMEN_CENTRE_CELLS + k];
    for (size_t p = 0; p < BK_LUMEN_BACKGROUND_N; p++)
        for (size_t k = 0; k < 4; k++)
            *index++ = layout->background[p][number / BK_LUMEN_BACKGROUND_CELLS + k];
    for (size_t k = 0; k < LOCAL; k++)
        c->value[k] = unknown[c->index[k]];
}

/* One pixel: expected intensity, transmission, and, unless row is NULL, the derivatives. */
typedef struct place {
    double t, s_unit, x, scatter; /* place within the cell, -1..1 along the limb */
} place;

static double along(const cell *c, const bk_lumen_state *state, bk_lumen_table *table, const place *at, double shift,
                    double log_shift, bk_lumen_profile *sum, double row[DIAMETER])
{
    static const double weight[3] = {1.0 / 6.0, 2.0 / 3.0, 1.0 / 6.0};
    memset(sum, 0, sizeof *sum);
    memset(row, 0, DIAMETER * sizeof *row);
    for (int node = -1; node <= 1; node++) {
        const double t = at->t + (double)node * c->reach + 1.0; /* counted from the cell before */
        const size_t first = (size_t)t;
        double v[4], slope, value = 0.0;
        bk_lumen_bspline(t - (double)first, v);
        for (size_t k = 0; k < 4; k++)
            value += v[k] * c->value[first + k];
        const double d = bk_lumen_bent(value, state->bend_px, &slope);
        const bk_lumen_profile p = bk_lumen_table_at(table, shift, d, log_shift);
        const double w = weight[node + 1];
        sum->w += w * p.w;
        sum->x += w * p.x;
        sum->m += w * p.m;
        sum->sigma += w * p.sigma;
        for (size_t k = 0; k < 4; k++)
            row[first + k] -= w * p.d * slope * v[k];
    }
    return 1.0 - sum->w;
}

static double pixel(const cell *c, const bk_lumen_state *state, size_t limb, bk_lumen_table *table, const place *at,
                    double row[ROW], double *transmission)
{
    double v[4], centre = 0.0, log_ground = 0.0;
    const double tc = (at->t + (double)(c->number % BK_LUMEN_CENTRE_CELLS)) / BK_LUMEN_CENTRE_CELLS;
    bk_lumen_bspline(tc, v);
    for (size_t k = 0; k < CENTRE; k++) {
        centre += v[k] * c->value[DIAMETER + k];
        row[DIAMETER + k] = v[k];
    }
    bk_lumen_bspline((at->t + (double)(c->number % BK_LUMEN_BACKGROUND_CELLS)) / BK_LUMEN_BACKGROUND_CELLS, v);
    double power = 1.0;
    for (size_t p = 0, k = DIAMETER + CENTRE; p < BK_LUMEN_BACKGROUND_N; p++, power *= at->x / c->layout->window_px)
        for (size_t q = 0; q < 4; q++, k++) {
            row[k] = v[q] * power;
            log_ground += row[k] * c->value[k];
        }
    const double log_shift = state->density[limb][0] + at->s_unit * state->density[limb][1] - log(table->density_per_px);
    bk_lumen_profile sum;
    const double through = along(c, state, table, at, at->x - centre, log_shift, &sum, row);
    const double ground = exp(log_ground), primary = ground * fmax(through, INTENSITY_FLOOR);
    for (size_t k = 0; k < DIAMETER; k++)
        row[k] *= ground;
    for (size_t k = 0; k < CENTRE; k++)
        row[DIAMETER + k] *= ground * sum.x;
    for (size_t k = 0; k < GROUND; k++)
        row[DIAMETER + CENTRE + k] *= primary;
    row[LOCAL] = -ground * sum.m;
    row[LOCAL + 1] = -ground * sum.m * at->s_unit;
    row[LOCAL + 2] = -ground * sum.sigma * c->sigma;
    row[LOCAL + 3] = at->scatter;
    *transmission = through;
    return primary + state->scatter * at->scatter;
}

static void spread(const cell *c, size_t limb, const double sum[ROW][ROW], bk_lumen_normal *normal)
{
    const size_t band = normal->band[limb];
    for (size_t p = 0; p < LOCAL; p++) {
        const size_t i = c->index[p];
        for (size_t q = 0; q <= p; q++) {
            const size_t j = c->index[q], low = i < j ? i : j, high = i < j ? j : i;
            normal->a[limb][high * (band + 1) + (low + band - high)] += sum[p][q];
        }
        for (size_t b = 0; b < BK_LUMEN_BORDER_N; b++)
            normal->border[limb][i * BK_LUMEN_BORDER_N + b] += sum[LOCAL + b][p];
        normal->right[limb][i] += sum[ROW - 1][p];
    }
    for (size_t b = 0; b < BK_LUMEN_BORDER_N; b++) {
        const size_t row = bk_lumen_corner_index(limb, b);
        for (size_t d = 0; d < BK_LUMEN_BORDER_N; d++)
            normal->corner[row * BK_LUMEN_CORNER_N + bk_lumen_corner_index(limb, d)] +=
                d <= b ? sum[LOCAL + b][LOCAL + d] : sum[LOCAL + d][LOCAL + b];
        normal->corner_right[row] += sum[ROW - 1][LOCAL + b];
    }
}

static double limb_pixels(bk_lumen_state *state, size_t limb, bk_lumen_normal *normal)
{
    bk_lumen_pixels *const px = &state->pixels[limb];
    const bk_lumen_layout *const layout = &state->layout[limb];
    const double sigma = exp(state->log_sigma), half = 0.5 * layout->cell_px * (double)(layout->cells - 2);
    const double middle = layout->start_px + layout->cell_px + half;
    double cost = 0.0;
    cell c;
    for (size_t number = 0; number < px->cells; number++) {
        double sum[ROW][ROW];
        memset(sum, 0, sizeof sum);
        cell_begin(&c, layout, state->unknown[limb], number + 1, sigma);
        const double begin = layout->start_px + layout->cell_px * (double)(number + 1);
        for (size_t k = px->cell_start[number]; k < px->cell_start[number + 1]; k++) {
            const double s = (double)px->s[k];
            const place at = {fmin(fmax((s - begin) / layout->cell_px, 0.0), 1.0), (s - middle) / half,
                              (double)px->x[k], (double)px->scatter[k]};
            double row[ROW], through;
            const double expected = pixel(&c, state, limb, &state->table[limb], &at, row, &through);
            const double rest = (double)px->value[k] - expected;
            const double root = sqrt(expected);
            px->rest[k] = (float)(rest / root);
            px->pull[k] = (float)((row[0] + row[1] + row[2] + row[3] + row[4] + row[5]) / root);
            const double weight = (double)px->robust[k] / (state->gain * expected);
            cost += (double)px->robust[k] * rest * rest / (state->gain * (expected + fmax(rest, -expected) / 3.0));
            row[ROW - 1] = rest;
            for (size_t p = 0; p < ROW; p++) {
                const double v = weight * row[p];
                for (size_t q = 0; q <= p; q++)
                    sum[p][q] += v * row[q];
            }
        }
        spread(&c, limb, (const double(*)[ROW])sum, normal);
    }
    return cost;
}

/* Add a Gaussian prior on a combination of up to three unknowns of a limb. */
static double prior_on(bk_lumen_normal *normal, size_t limb, const double *unknown, const size_t *index,
                       const double *factor, size_t count, double sd)
{
    const size_t band = normal->band[limb];
    const double precision = 1.0 / (sd * sd);
    double value = 0.0;
    for (size_t k = 0; k < count; k++)
        value += factor[k] * unknown[index[k]];
    for (size_t p = 0; p < count; p++) {
        for (size_t q = 0; q <= p; q++) {
            const size_t i = index[p], j = index[q], low = i < j ? i : j, high = i < j ? j : i;
            normal->a[limb][high * (band + 1) + (low + band - high)] += precision * factor[p] * factor[q];
        }
        normal->right[limb][index[p]] -= precision * factor[p] * value;
    }
    return precision * value * value;
}

static double prior_spline(bk_lumen_normal *normal, size_t limb, const double *unknown, const size_t *index,
                           size_t count, double bend_sd, double sd)
{
    static const double second[3] = {1.0, -2.0, 1.0};
    double cost = 0.0;
    for (size_t k = 0; k + 2 < count; k++)
        cost += prior_on(normal, limb, unknown, index + k, second, 3, bend_sd);
    if (sd > 0.0)
        for (size_t k = 0; k < count; k++)
            cost += prior_on(normal, limb, unknown, index + k, second, 1, sd);
    return cost;
}

static double corner_prior(bk_lumen_normal *normal, size_t i, double value, double sd)
{
    normal->corner[i * BK_LUMEN_CORNER_N + i] += 1.0 / (sd * sd);
    normal->corner_right[i] -= value / (sd * sd);
    return value * value / (sd * sd);
}

/* Densities of the limbs differ by their slant to the beam and by mixing, not freely. */
static double density_prior(const bk_lumen_state *state, bk_lumen_normal *normal)
{
    const bk_lumen_prior *const prior = &state->prior;
    double cost = 0.0;
    for (size_t a = 0; a < BK_LUMEN_LIMBS; a++) {
        cost += corner_prior(normal, bk_lumen_corner_index(a, 1), state->density[a][1], prior->density_slope);
        for (size_t b = 0; b < a; b++) {
            const double apart = state->density[a][0] - state->density[b][0];
            const double precision = 1.0 / (prior->density_apart * prior->density_apart);
            const size_t i = bk_lumen_corner_index(a, 0), j = bk_lumen_corner_index(b, 0), n = BK_LUMEN_CORNER_N;
            normal->corner[i * n + i] += precision;
            normal->corner[j * n + j] += precision;
            normal->corner[i * n + j] -= precision;
            normal->corner[j * n + i] -= precision;
            normal->corner_right[i] -= precision * apart;
            normal->corner_right[j] += precision * apart;
            cost += precision * apart * apart;
        }
    }
    cost += corner_prior(normal, BK_LUMEN_SCATTER, state->scatter - state->scatter_start, prior->scatter);
    return cost + corner_prior(normal, BK_LUMEN_BLUR, state->log_sigma - state->log_sigma_start, prior->log_sigma);
}

double bk_lumen_model_normal(bk_lumen_state *state, bk_lumen_normal *normal)
{
    const bk_lumen_prior *const prior = &state->prior;
    double cost = 0.0;
    memset(normal->corner, 0, sizeof normal->corner);
    memset(normal->corner_right, 0, sizeof normal->corner_right);
    for (size_t limb = 0; limb < BK_LUMEN_LIMBS; limb++) {
        const bk_lumen_layout *const layout = &state->layout[limb];
        const double *const u = state->unknown[limb];
        memset(normal->a[limb], 0, layout->n * (layout->band + 1) * sizeof(double));
        memset(normal->border[limb], 0, layout->n * BK_LUMEN_BORDER_N * sizeof(double));
        memset(normal->right[limb], 0, layout->n * sizeof(double));
        cost += limb_pixels(state, limb, normal);
        cost += prior_spline(normal, limb, u, layout->diameter, layout->diameter_n, prior->diameter_bend, 0.0);
        cost += prior_spline(normal, limb, u, layout->centre, layout->centre_n, prior->centre_bend, prior->centre);
        for (size_t p = 0; p < BK_LUMEN_BACKGROUND_N; p++)
            cost += prior_spline(normal, limb, u, layout->background[p], layout->background_n,
                                 prior->background_bend[p], prior->background[p]);
    }
    return cost + density_prior(state, normal);
}

double bk_lumen_model_at(bk_lumen_state *state, size_t limb, double s_px, double x_px, double scatter,
                         double *transmission)
{
    const bk_lumen_layout *const layout = &state->layout[limb];
    const double half = 0.5 * layout->cell_px * (double)(layout->cells - 2);
    const double cells = (s_px - layout->start_px) / layout->cell_px;
    const double number = fmin(fmax(floor(cells), 1.0), (double)(layout->cells - 2));
    cell c;
    cell_begin(&c, layout, state->unknown[limb], (size_t)number, exp(state->log_sigma));
    const place at = {fmin(fmax(cells - number, 0.0), 1.0), (s_px - layout->start_px - layout->cell_px - half) / half,
                      x_px, scatter};
    double row[ROW], through;
    const double expected = pixel(&c, state, limb, &state->table[limb], &at, row, transmission ? transmission : &through);
    return expected;
}
