/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The rows of a table of blurred absorption (lumen_profile.c has the integral), in units of the blur: eight nodes at a
   time, summed over the quadrature points that reach them. */
#include "core/image/lumen_internal.h"

#define REACH 5.0F /* of the blur, in units of it */
#define POINTS_MAX 256
#define POOL_NODES 49152 /* three limbs of 5 mm, at any size of pixel and twice over at a common blur */
#define PER_ROOT_2PI 0.3989422804F

bk_status bk_lumen_pool_init(bk_lumen_pool *pool, const double *rule, bk_arena *arena, bk_err *err)
{
    *pool = (bk_lumen_pool){.n = POOL_NODES, .rule = rule};
    pool->node = BK_NEW_RAW(arena, pool->n, bk_lumen_node, err);
    return pool->node == NULL ? BK_E_LIMIT : BK_OK;
}

bk_status bk_lumen_table_init(bk_lumen_table *table, bk_lumen_pool *pool, double diameter_max, bk_arena *arena, bk_err *err)
{
    const double most = fmin(diameter_max, (double)BK_LUMEN_WIDEST);
    *table = (bk_lumen_table){.log_density = NAN, .pool = pool};
    while (bk_lumen_row_diameter(table->rows++) < most)
        continue;
    table->row = BK_NEW(arena, table->rows, bk_lumen_node *, err);
    return table->row == NULL ? BK_E_LIMIT : BK_OK;
}

void bk_lumen_table_aim(bk_lumen_table *table, double log_density)
{
    table->log_density = log_density;
    table->emptied = table->pool->emptied;
    memset(table->row, 0, table->rows * sizeof *table->row);
}

/* What a row's quadrature points give; ordered from x = radius to -radius. */
typedef struct points {
    size_t n;
    float at[POINTS_MAX], w[POINTS_MAX], d[POINTS_MAX], dd[POINTS_MAX], d_shift[POINTS_MAX], m[POINTS_MAX],
        mm[POINTS_MAX], md[POINTS_MAX];
} points;

static void points_of(const double *rule, double radius, double density, points *out)
{
    const double *const from = bk_lumen_rule_of(rule, radius, &out->n);
    for (size_t i = 0; i < out->n; i++) {
        const bk_lumen_point p = bk_lumen_point_of(from + 3 * i, radius, density);
        out->at[i] = (float)p.at;
        out->w[i] = (float)p.w;
        out->d[i] = (float)p.d;
        out->dd[i] = (float)p.dd;
        out->d_shift[i] = (float)p.d_shift;
        out->m[i] = (float)p.m;
        out->mm[i] = (float)p.mm;
        out->md[i] = (float)p.md;
    }
}

/* Eight nodes from place x on: value i of a node is sums[i]. */
BK_INLINE void sum_points(const points *p, float x, bk_v8 sums[12])
{
    const bk_v8 places = x + BK_LUMEN_NODE_STEP * (bk_v8){0.0F, 1.0F, 2.0F, 3.0F, 4.0F, 5.0F, 6.0F, 7.0F};
    const float end = x + 7.0F * BK_LUMEN_NODE_STEP + REACH, begin = x - REACH;
    const bk_v8 zero = bk_v8_all(0.0F);
    bk_v8 w = zero, wx = zero, d = zero, wxx = zero, dx = zero, dd = zero, m = zero, mx = zero, md = zero, mm = zero,
          wxxx = zero, dxx = zero;
    for (size_t i = 0; i < p->n && p->at[i] >= begin; i++) {
        if (p->at[i] > end)
            continue;
        const bk_v8 u = places - p->at[i], q = u * u;
        const bk_v8 g = PER_ROOT_2PI * bk_v8_exp(-0.5F * q), g1 = -u * g, g2 = (q - 1.0F) * g, g3 = u * (3.0F - q) * g;
        w += p->w[i] * g;
        wx += p->w[i] * g1;
        wxx += p->w[i] * g2;
        wxxx += p->w[i] * g3;
        d += p->d[i] * g;
        dx += p->d[i] * g1;
        dxx += p->d[i] * g2;
        dd += p->dd[i] * g + p->d_shift[i] * g1;
        m += p->m[i] * g;
        mx += p->m[i] * g1;
        md += p->md[i] * g;
        mm += p->mm[i] * g;
    }
    /* by the diameter while the place from the edge is held: the place moves with half of it */
    const bk_v8 all[12] = {w, wx, d + 0.5F * wx, wxx, dx + 0.5F * wxx, dd + dx + 0.25F * wxx, m, mx, md + 0.5F * mx, mm, wxxx,
                           dxx + 0.5F * wxxx};
    memcpy(sums, all, sizeof all);
}

BK_WIDE static void fill_row(const points *p, bk_lumen_node *node, size_t n)
{
    for (size_t k = 0; k < n; k += BK_V8) {
        bk_v8 sums[12];
        sum_points(p, (float)k * BK_LUMEN_NODE_STEP, sums);
        for (size_t lane = 0; lane < BK_V8 && k + lane < n; lane++) {
            float *const to = &node[k + lane].w;
            for (size_t i = 0; i < 12; i++)
                to[i] = sums[i][lane];
        }
    }
    memset(&node[n - 2], 0, 2 * sizeof *node);
}

void bk_lumen_table_make(bk_lumen_table *table, size_t row)
{
    bk_lumen_pool *const pool = table->pool;
    const double radius = 0.5 * bk_lumen_row_diameter(row);
    const size_t n = (size_t)(radius / (double)BK_LUMEN_NODE_STEP) + BK_LUMEN_NODES_BESIDE + 2; /* 1: a look-up may round */
    if (pool->used + n > pool->n) {
        pool->used = 0;
        pool->emptied++;
    }
    if (table->emptied != pool->emptied)
        bk_lumen_table_aim(table, table->log_density);
    if (table->row[row] != NULL)
        return;
    points p;
    points_of(pool->rule, radius, exp(table->log_density), &p);
    fill_row(&p, pool->node + pool->used, n);
    table->row[row] = pool->node + pool->used;
    pool->used += n;
}
