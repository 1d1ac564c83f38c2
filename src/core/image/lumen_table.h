/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Blurred absorption of a round lumen, looked up. In units of the blur the absorption depends on three numbers only:
   place |x|, diameter, and density times blur. A table holds one density; nodes lie on a grid of place and diameter,
   made row by row when first asked for; between them Taylor series about the nearest node. Private to the lumen fit. */
#ifndef BK_CORE_IMAGE_LUMEN_TABLE_H
#define BK_CORE_IMAGE_LUMEN_TABLE_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "core/image/lumen_vector.h"

#define BK_LUMEN_NODE_STEP 0.25F /* of places, in units of the blur */
#define BK_LUMEN_ROW_GROWTH 2.0F /* diameter, in units of the blur, from where rows move apart */
#define BK_LUMEN_ROW_STEP 0.07F  /* of sqrt(1 + diameter / growth) */
#define BK_LUMEN_WIDEST 400.0F
#define BK_LUMEN_NODES_BESIDE 21 /* from the edge of the lumen: five times the blur, and one that is 0 */

/* W = 1 - transmission, blurred, and its derivatives by the place e from the edge (written x), by the diameter d while e
   is held, so that rows may be far apart where the lumen is wide, and by the log of the density m. */
typedef struct bk_lumen_node {
    float w, x, d, xx, xd, dd, m, mx, md, mm, xxx, xxd;
} bk_lumen_node;

/** Diameter of a row, in units of the blur. */
static inline double bk_lumen_row_diameter(size_t row)
{
    const double root = 1.0 + ((double)row + 0.5) * (double)BK_LUMEN_ROW_STEP;
    return (double)BK_LUMEN_ROW_GROWTH * (root * root - 1.0);
}

/* Where the rows of all tables lie. A row that finds no room more empties it, and all tables begin anew. */
typedef struct bk_lumen_pool {
    bk_lumen_node *node;
    size_t n, used;
    unsigned emptied;   /* how often */
    const double *rule; /* quadrature nodes and weights, see bk_lumen_rule_new */
} bk_lumen_pool;

typedef struct bk_lumen_table {
    double log_density;  /* density times blur; NAN: none yet */
    size_t rows;
    bk_lumen_node **row; /* rows, each from the axis outwards; NULL: not made */
    unsigned emptied;    /* of the pool, when the rows were made */
    bk_lumen_pool *pool;
} bk_lumen_table;

/** Room for rows. Errors: BK_E_LIMIT. */
bk_status bk_lumen_pool_init(bk_lumen_pool *pool, const double *rule, bk_arena *arena, bk_err *err) BK_MUST_CHECK;
/** A table of diameters up to diameter_max (in units of the blur, at most BK_LUMEN_WIDEST). Errors: BK_E_LIMIT. */
bk_status bk_lumen_table_init(bk_lumen_table *table, bk_lumen_pool *pool, double diameter_max, bk_arena *arena,
                              bk_err *err) BK_MUST_CHECK;
/** Aim the table at a density: forgets its rows. */
void bk_lumen_table_aim(bk_lumen_table *table, double log_density);
/** Make a row unless it is there. */
void bk_lumen_table_make(bk_lumen_table *table, size_t row);

/* Eight absorptions and their derivatives: by place, diameter, log density and log blur. */
typedef struct bk_lumen_profile8 {
    bk_v8 w, x, d, m, blur;
} bk_lumen_profile8;

/* The node nearest to each of eight places, as columns of values: f[i][lane]. */
BK_INLINE void bk_lumen_nearest(bk_lumen_table *table, const bk_i8 row, const bk_i8 column, bk_v8 f[12])
{
    const float *from[BK_V8];
    for (bool whole = false; !whole;) {
        const unsigned emptied = table->pool->emptied;
        for (int lane = 0; lane < BK_V8; lane++) {
            const size_t r = (size_t)row[lane];
            if (table->emptied != emptied || table->row[r] == NULL)
                bk_lumen_table_make(table, r);
            from[lane] = &table->row[r][column[lane]].w;
        }
        whole = table->pool->emptied == emptied; /* the rows of the first lanes may be gone; a pool holds many times eight */
    }
    for (size_t i = 0; i < 12; i += 4) {
        for (size_t lane = 0; lane < 4; lane++)
            f[i + lane] = bk_v8_pair(from[lane] + i, from[lane + 4] + i);
        bk_v8_transpose(&f[i], &f[i + 1], &f[i + 2], &f[i + 3]);
    }
}

/** Look up eight places: x and diameter in px, per_sigma = 1 / blur in px, log_shift = log(density times blur) less
    the table's, small. Results per px. */
BK_INLINE void bk_lumen_lookup(bk_lumen_table *table, bk_v8 x_px, bk_v8 diameter_px, bk_v8 log_shift, float per_sigma,
                               bk_lumen_profile8 *out)
{
    const float step = BK_LUMEN_NODE_STEP;
    const bk_v8 wide = bk_v8_max(diameter_px * per_sigma, bk_v8_all(0.0F));
    const bk_v8 down = bk_v8_min((bk_v8_sqrt(1.0F + wide * (1.0F / BK_LUMEN_ROW_GROWTH)) - 1.0F) * (1.0F / BK_LUMEN_ROW_STEP),
                                 bk_v8_all((float)table->rows - 1.0F));
    const bk_i8 row = __builtin_convertvector(down, bk_i8);
    const bk_v8 root = 1.0F + (__builtin_convertvector(row, bk_v8) + 0.5F) * BK_LUMEN_ROW_STEP;
    const bk_v8 b = wide - BK_LUMEN_ROW_GROWTH * (root * root - 1.0F);
    const bk_v8 half = (0.5F * BK_LUMEN_ROW_GROWTH / BK_LUMEN_NODE_STEP) * (root * root - 1.0F);
    const bk_v8 last = bk_v8_all((float)BK_LUMEN_NODES_BESIDE) + __builtin_convertvector(__builtin_convertvector(half, bk_i8), bk_v8);
    const bk_v8 across = bk_v8_min((bk_v8_abs(x_px) * per_sigma - 0.5F * b) * (1.0F / step), last);
    const bk_i8 column = __builtin_convertvector(bk_v8_max(across, bk_v8_all(0.0F)) + 0.5F, bk_i8);
    bk_v8 f[12];
    bk_lumen_nearest(table, row, column, f);
    const bk_v8 a = (across - __builtin_convertvector(column, bk_v8)) * step;
    const bk_v8 k = log_shift, aa = 0.5F * a * a;
    const bk_v8 w = f[0], x = f[1], d = f[2], xx = f[3], xd = f[4], dd = f[5], m = f[6], mx = f[7], md = f[8], mm = f[9],
                xxx = f[10], xxd = f[11];
    out->w = w + a * (x + a * (0.5F * xx + a * (1.0F / 6.0F) * xxx)) + b * (d + a * xd + aa * xxd + 0.5F * b * dd) +
             k * (m + a * mx + b * md + 0.5F * k * mm);
    const bk_v8 slope = x + a * xx + b * xd + aa * xxx + a * b * xxd + k * mx;
    out->d = per_sigma * (d + a * xd + aa * xxd + b * dd + k * md - 0.5F * slope); /* the place is held, not that from the edge */
    out->m = m + a * mx + b * md + k * mm;
    out->blur = xx + a * xxx + b * xxd; /* heat equation */
    out->x = per_sigma * bk_v8_where(x_px < bk_v8_all(0.0F), -slope, slope);
}

#endif
