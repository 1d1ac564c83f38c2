/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The model of a pixel and its derivatives:
       I = exp(b(s, x)) (1 - W - lost) + f * broad,
   W the blurred absorption at x - c(s), averaged along the limb with the three Gauss-Hermite points of the blur;
   b the log of the background that is not scatter; lost what other limbs beside absorb; broad the broadly blurred
   image.
   All pixels of a cell meet the same unknowns, so a cell becomes a block of rows, one per unknown, which
   lumen_normal.c sums. Eight pixels at a time. */
#include "core/image/lumen_internal.h"

#define ROOT3 1.7320508075688772
#define THROUGH_FLOOR 1e-3F
#define FAR_SIGMAS 4.5

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

void bk_lumen_cell_begin(bk_lumen_cell *c, bk_lumen_state *state, size_t limb, size_t number)
{
    const bk_lumen_layout *const layout = &state->layout[limb];
    const double *const unknown = state->unknown[limb];
    const double sigma = exp(state->log_sigma);
    size_t *index = c->index;
    for (size_t k = 0; k < BK_LUMEN_MEET_DIAMETER; k++)
        *index++ = layout->diameter[number - 1 + k];
    for (size_t k = 0; k < BK_LUMEN_MEET_CENTRE; k++)
        *index++ = layout->centre[number / BK_LUMEN_CENTRE_CELLS + k];
    for (size_t p = 0; p < BK_LUMEN_BACKGROUND_N; p++)
        for (size_t k = 0; k < BK_LUMEN_GROUND; k++)
            *index++ = layout->background[p][number / BK_LUMEN_BACKGROUND_CELLS + k];
    double widest = 0.0;
    for (size_t k = 0; k < BK_LUMEN_MEET; k++) {
        c->value[k] = (float)unknown[c->index[k]];
        if (k < BK_LUMEN_MEET_DIAMETER)
            widest = fmax(widest, unknown[c->index[k]]);
    }
    c->centre_at = (float)(number % BK_LUMEN_CENTRE_CELLS);
    c->ground_at = (float)(number % BK_LUMEN_BACKGROUND_CELLS);
    c->reach = (float)fmin(ROOT3 * sigma / layout->cell_px, 0.999);
    c->far = (float)(0.5 * fmax(widest, state->bend_px) + FAR_SIGMAS * sigma);
    c->per_sigma = (float)(1.0 / sigma);
    c->per_window = (float)(1.0 / layout->window_px);
    c->density = (float)(state->density[limb][0] + state->log_sigma - state->table_of[limb]->log_density);
    c->density_slope = (float)state->density[limb][1];
    c->bend = (float)state->bend_px;
    c->scatter = (float)state->scatter;
    c->per_gain = (float)(1.0 / state->gain);
    c->rough = state->rough;
    c->table = state->table_of[limb];
}

/* Sums over the three points along the limb. */
typedef struct absorption {
    bk_v8 w, x, m, blur, d[BK_LUMEN_MEET_DIAMETER], pull;
} absorption;

/* Small diameters stay positive: bk_lumen_bent of eight. */
BK_INLINE bk_v8 bent(bk_v8 value, float bend, bk_v8 *slope)
{
    const bk_v8 low = bk_v8_exp(bk_v8_max(value * (1.0F / bend) - 1.0F, bk_v8_all(-20.0F)));
    const bk_i8 straight = value >= bk_v8_all(bend);
    *slope = bk_v8_where(straight, bk_v8_all(1.0F), low);
    return bk_v8_where(straight, value, bend * low);
}

BK_INLINE void absorb(const bk_lumen_cell *c, bk_v8 t, bk_v8 shift, bk_v8 log_density, absorption *sum)
{
    static const float weights[3] = {1.0F / 6.0F, 2.0F / 3.0F, 1.0F / 6.0F}, all = 1.0F;
    const float *const weight = c->rough ? &all : weights;
    memset(sum, 0, sizeof *sum);
    const bk_v8 zero = bk_v8_all(0.0F);
    for (int node = 0; node < (c->rough ? 1 : 3); node++) {
        const float off = c->rough ? 0.0F : (float)(node - 1) * c->reach;
        const bk_v8 at = t + (1.0F + off); /* counted from the cell before */
        bk_v8 v[BK_LUMEN_MEET_DIAMETER], value = zero, slope = bk_v8_all(1.0F);
        for (int k = 0; k < BK_LUMEN_MEET_DIAMETER; k++) {
            v[k] = bk_v8_bspline(at - (float)(k - 1));
            value += v[k] * c->value[k];
        }
        if (bk_v8_any(value < bk_v8_all(c->bend)))
            value = bent(value, c->bend, &slope);
        bk_lumen_profile8 p;
        bk_lumen_lookup(c->table, shift, value, log_density, c->per_sigma, &p);
        const float w = weight[node];
        const bk_v8 pull = w * slope * p.d;
        sum->w += w * p.w;
        sum->x += w * p.x;
        sum->m += w * p.m;
        sum->blur += w * p.blur;
        sum->pull += pull;
        for (int k = 0; k < BK_LUMEN_MEET_DIAMETER; k++)
            sum->d[k] += pull * v[k];
    }
}

/* Rows of the unknowns that shape the lumen; zero far from it. */
BK_INLINE void lumen_rows(const absorption *sum, const bk_v8 *centre, bk_v8 ground, bk_v8 s_unit,
                          bk_lumen_rows *rows, size_t k)
{
    for (size_t i = 0; i < BK_LUMEN_MEET_DIAMETER; i++)
        bk_v8_store(&rows->row[i][k], -ground * sum->d[i]);
    const bk_v8 sideways = ground * sum->x, dense = -ground * sum->m;
    for (size_t i = 0; i < BK_LUMEN_MEET_CENTRE; i++)
        bk_v8_store(&rows->row[BK_LUMEN_MEET_DIAMETER + i][k], sideways * centre[i]);
    bk_v8_store(&rows->row[BK_LUMEN_ROW_DENSITY][k], dense);
    bk_v8_store(&rows->row[BK_LUMEN_ROW_DENSITY + 1][k], dense * s_unit);
    bk_v8_store(&rows->row[BK_LUMEN_ROW_BLUR][k], -ground * sum->blur);
}

/* Background rows, without the pixel's factor; returns the log of the background. */
BK_INLINE bk_v8 ground_rows(const bk_lumen_cell *c, bk_v8 t, bk_v8 x, bk_v8 row[BK_LUMEN_GROUND * BK_LUMEN_BACKGROUND_N])
{
    const bk_v8 at = (t + c->ground_at) * (1.0F / BK_LUMEN_BACKGROUND_CELLS);
    bk_v8 sum = bk_v8_all(0.0F);
    for (size_t q = 0; q < BK_LUMEN_GROUND; q++) {
        bk_v8 power = bk_v8_max(1.0F - bk_v8_abs(at - (float)q), bk_v8_all(0.0F));
        for (size_t p = 0; p < BK_LUMEN_BACKGROUND_N; p++) {
            row[BK_LUMEN_GROUND * p + q] = power;
            sum += power * c->value[BK_LUMEN_MEET_DIAMETER + BK_LUMEN_MEET_CENTRE + BK_LUMEN_GROUND * p + q];
            power *= x;
        }
    }
    return sum;
}

BK_INLINE bk_v8 centre_of(const bk_lumen_cell *c, bk_v8 t, bk_v8 v[BK_LUMEN_MEET_CENTRE])
{
    const bk_v8 at = (t + c->centre_at) * (1.0F / BK_LUMEN_CENTRE_CELLS);
    bk_v8 sum = bk_v8_all(0.0F);
    for (size_t k = 0; k < BK_LUMEN_MEET_CENTRE; k++) {
        v[k] = bk_v8_bspline(at - ((float)k - 1.0F));
        sum += v[k] * c->value[BK_LUMEN_MEET_DIAMETER + k];
    }
    return sum;
}

BK_INLINE bool all_far(bk_v8 shift, float far)
{
    return !bk_v8_any(bk_v8_abs(shift) <= bk_v8_all(far));
}

/* Eight pixels from place k of the limb's list into column `to` of the rows. Returns whether the lumen shows. */
BK_INLINE bool eight(const bk_lumen_cell *c, bk_lumen_pixels *px, size_t k, bk_lumen_rows *rows, size_t to)
{
    bk_v8 centre[BK_LUMEN_MEET_CENTRE], background[BK_LUMEN_GROUND * BK_LUMEN_BACKGROUND_N];
    const bk_v8 t = bk_v8_load(px->t + k), x = bk_v8_load(px->x + k), s_unit = bk_v8_load(px->s_unit + k);
    const bk_v8 broad = bk_v8_load(px->scatter + k), value = bk_v8_load(px->value + k);
    const bk_v8 shift = x - centre_of(c, t, centre);
    const bk_v8 ground = bk_v8_exp(ground_rows(c, t, x * c->per_window, background));
    const bool near = !all_far(shift, c->far);
    const bk_v8 through = 1.0F - bk_v8_load(px->lost + k);
    bk_v8 primary = ground * through, pull = bk_v8_all(0.0F);
    if (near) {
        absorption sum;
        absorb(c, t, shift, c->density + c->density_slope * s_unit, &sum);
        primary = ground * bk_v8_max(through - sum.w, bk_v8_all(THROUGH_FLOOR));
        pull = -ground * sum.pull;
        lumen_rows(&sum, centre, ground, s_unit, rows, to);
    }
    const bk_v8 expected = bk_v8_max(primary + c->scatter * broad, THROUGH_FLOOR * ground), rest = value - expected;
    const bk_v8 robust = bk_v8_load(px->robust + k), root = bk_v8_sqrt(expected);
    const bk_v8 weight = bk_v8_sqrt(robust * c->per_gain) / root;
    bk_v8_store(px->rest + k, rest / root);
    bk_v8_store(px->pull + k, pull / root);
    bk_v8_store(&rows->weight[to], weight);
    for (size_t i = 0; i < BK_LUMEN_GROUND * BK_LUMEN_BACKGROUND_N; i++)
        bk_v8_store(&rows->row[BK_LUMEN_ROW_GROUND + i][to], background[i] * primary);
    bk_v8_store(&rows->row[BK_LUMEN_ROW_SCATTER][to], broad);
    bk_v8_store(&rows->row[BK_LUMEN_ROW_REST][to], rest);
    rows->cost += (double)bk_v8_sum(robust * c->per_gain * rest * rest /
                                    (expected + bk_v8_max(rest, -expected) * (1.0F / 3.0F)));
    return near;
}

BK_WIDE void bk_lumen_cell_rows(const bk_lumen_cell *c, bk_lumen_pixels *px, size_t from, size_t to, bk_lumen_rows *rows)
{
    rows->n = to - from;
    rows->near = 0;
    for (size_t k = from; k < to; k += BK_V8)
        if (eight(c, px, k, rows, k - from)) {
            /* pixels are in order of |x|; where a skewed centre breaks the order, what was skipped is zero */
            for (size_t i = 0; i < BK_LUMEN_ROW_GROUND && rows->near < k - from; i++)
                memset(&rows->row[i][rows->near], 0, (k - from - rows->near) * sizeof(float));
            rows->near = k - from + BK_V8;
        }
}
