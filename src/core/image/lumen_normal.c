/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The normal equations: sums over the rows of each cell, priors, and the cost. */
#include <math.h>
#include <string.h>

#include "core/image/lumen_internal.h"

#define TILE 3
#define TILES (BK_LUMEN_ROWS / TILE)

/* Products of one tile of rows with another over n columns. */
BK_INLINE void tile(const bk_lumen_rows *rows, size_t p, size_t q, size_t n, float sum[BK_LUMEN_ROWS][BK_LUMEN_ROWS])
{
    bk_v8 s[TILE][TILE];
    memset(s, 0, sizeof s);
    for (size_t k = 0; k < n; k += BK_V8) {
        const bk_v8 a0 = bk_v8_load(&rows->row[p][k]), a1 = bk_v8_load(&rows->row[p + 1][k]),
                    a2 = bk_v8_load(&rows->row[p + 2][k]);
        const bk_v8 b0 = bk_v8_load(&rows->row[q][k]), b1 = bk_v8_load(&rows->row[q + 1][k]),
                    b2 = bk_v8_load(&rows->row[q + 2][k]);
        s[0][0] += a0 * b0;
        s[0][1] += a0 * b1;
        s[0][2] += a0 * b2;
        s[1][0] += a1 * b0;
        s[1][1] += a1 * b1;
        s[1][2] += a1 * b2;
        s[2][0] += a2 * b0;
        s[2][1] += a2 * b1;
        s[2][2] += a2 * b2;
    }
    for (size_t i = 0; i < TILE; i++)
        for (size_t j = 0; j < TILE; j++)
            sum[p + i][q + j] += bk_v8_sum(s[i][j]);
}

/* Weigh the rows and add their products; rows before the background are zero beyond `near`. */
BK_WIDE static void add_products(bk_lumen_rows *rows, float sum[BK_LUMEN_ROWS][BK_LUMEN_ROWS])
{
    for (size_t i = 0; i < BK_LUMEN_ROWS_USED; i++) {
        const size_t n = i < BK_LUMEN_ROW_GROUND ? rows->near : rows->n;
        for (size_t k = 0; k < n; k += BK_V8)
            bk_v8_store(&rows->row[i][k], bk_v8_load(&rows->row[i][k]) * bk_v8_load(&rows->weight[k]));
    }
    for (size_t i = BK_LUMEN_ROW_GROUND / TILE * TILE; i < BK_LUMEN_ROW_GROUND; i++) /* share a tile with background */
        memset(&rows->row[i][rows->near], 0, (rows->n - rows->near) * sizeof(float));
    for (size_t p = 0; p < BK_LUMEN_ROWS; p += TILE)
        for (size_t q = 0; q <= p; q += TILE)
            tile(rows, p, q, q + TILE <= BK_LUMEN_ROW_GROUND ? rows->near : rows->n, sum);
}

static double product(const float sum[BK_LUMEN_ROWS][BK_LUMEN_ROWS], size_t a, size_t b)
{
    return (double)(a > b ? sum[a][b] : sum[b][a]);
}

static const size_t border_row[BK_LUMEN_BORDER_N] = {BK_LUMEN_ROW_DENSITY, BK_LUMEN_ROW_DENSITY + 1,
                                                     BK_LUMEN_ROW_BLUR, BK_LUMEN_ROW_SCATTER};

static size_t row_of(size_t unknown)
{
    return unknown < BK_LUMEN_MEET_DIAMETER + BK_LUMEN_MEET_CENTRE
               ? unknown
               : BK_LUMEN_ROW_GROUND + unknown - BK_LUMEN_MEET_DIAMETER - BK_LUMEN_MEET_CENTRE;
}

/* Add the sums of a cell to the band, the border and the corner. */
static void spread(const bk_lumen_cell *c, size_t limb, const float sum[BK_LUMEN_ROWS][BK_LUMEN_ROWS],
                   bk_lumen_normal *normal)
{
    const size_t band = normal->band[limb];
    for (size_t p = 0; p < BK_LUMEN_MEET; p++) {
        const size_t i = c->index[p], row = row_of(p);
        for (size_t q = 0; q <= p; q++) {
            const size_t j = c->index[q], low = i < j ? i : j, high = i < j ? j : i;
            normal->a[limb][high * (band + 1) + (low + band - high)] += product(sum, row, row_of(q));
        }
        for (size_t b = 0; b < BK_LUMEN_BORDER_N; b++)
            normal->border[limb][i * BK_LUMEN_BORDER_N + b] += product(sum, border_row[b], row);
        normal->right[limb][i] += product(sum, BK_LUMEN_ROW_REST, row);
    }
    for (size_t b = 0; b < BK_LUMEN_BORDER_N; b++) {
        const size_t i = bk_lumen_corner_index(limb, b);
        for (size_t d = 0; d < BK_LUMEN_BORDER_N; d++)
            normal->corner[i * BK_LUMEN_CORNER_N + bk_lumen_corner_index(limb, d)] +=
                product(sum, border_row[b], border_row[d]);
        normal->corner_right[i] += product(sum, BK_LUMEN_ROW_REST, border_row[b]);
    }
}

double bk_lumen_limb_rest(bk_lumen_state *state, size_t limb, bk_lumen_pixels *px, bk_lumen_normal *normal)
{
    bk_lumen_rows *const rows = state->rows;
    bk_lumen_cell c;
    rows->cost = 0.0;
    for (size_t number = 0; number < px->cells; number++) {
        float sum[BK_LUMEN_ROWS][BK_LUMEN_ROWS];
        if (normal != NULL)
            memset(sum, 0, sizeof sum);
        bk_lumen_cell_begin(&c, state, limb, number + 1);
        const size_t end = px->cell_start[number + 1];
        for (size_t k = px->cell_start[number]; k < end; k += BK_LUMEN_COLUMNS) {
            bk_lumen_cell_rows(&c, px, k, k + BK_LUMEN_COLUMNS < end ? k + BK_LUMEN_COLUMNS : end, rows);
            if (normal != NULL)
                add_products(rows, sum);
        }
        if (normal != NULL)
            spread(&c, limb, (const float(*)[BK_LUMEN_ROWS])sum, normal);
    }
    return rows->cost;
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
                           size_t count, double bend_sd, const double *corner, double sd)
{
    static const double second[3] = {1.0, -2.0, 1.0};
    double cost = 0.0;
    for (size_t k = 0; k + 2 < count; k++)
        cost += prior_on(normal, limb, unknown, index + k, second, 3, corner ? bend_sd / sqrt(corner[k]) : bend_sd);
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
static double corner_priors(const bk_lumen_state *state, bk_lumen_normal *normal)
{
    const bk_lumen_prior *const prior = &state->prior;
    const double precision = 1.0 / (prior->density_apart * prior->density_apart);
    const size_t n = BK_LUMEN_CORNER_N;
    double cost = 0.0;
    for (size_t a = 0; a < BK_LUMEN_LIMBS; a++) {
        cost += corner_prior(normal, bk_lumen_corner_index(a, 1), state->density[a][1], prior->density_slope);
        for (size_t b = 0; b < a; b++) {
            const double apart = state->density[a][0] - state->density[b][0];
            const size_t i = bk_lumen_corner_index(a, 0), j = bk_lumen_corner_index(b, 0);
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

double bk_lumen_model_normal(bk_lumen_state *state, bk_lumen_pixels *pixels, bk_lumen_normal *normal)
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
        cost += bk_lumen_limb_rest(state, limb, &pixels[limb], normal);
        cost += prior_spline(normal, limb, u, layout->diameter, layout->diameter_n, prior->diameter_bend, state->corner[limb], 0.0);
        cost += prior_spline(normal, limb, u, layout->centre, layout->centre_n, prior->centre_bend, NULL, prior->centre);
        for (size_t p = 0; p < BK_LUMEN_BACKGROUND_N; p++)
            cost += prior_spline(normal, limb, u, layout->background[p], layout->background_n,
                                 prior->background_bend[p], NULL, prior->background[p]);
    }
    return cost + corner_priors(state, normal);
}
