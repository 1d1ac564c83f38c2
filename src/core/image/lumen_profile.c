/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A round lumen of diameter D = 2R and density m absorbs 1 - exp(-2 m sqrt(R^2 - x^2)) at x. Blurred by a Gaussian
   and written with x = R sin t:
       W(x) = integral over t of G(x - R sin t) (1 - exp(-2 m R cos t)) R cos t dt,   -pi/2 < t < pi/2,
   whose integrand is analytic, so Gauss-Legendre converges exponentially. Partial integration gives
       dW/dR = integral of G(x - R sin t) exp(-2 m R cos t) 2 m R dt,
   without the square-root singularity of the naive derivative; dW/dsigma = sigma d2W/dx2 (heat equation).
   Between the nodes of the table: Taylor series about the nearest node. */
#include <math.h>
#include <string.h>

#include "core/image/lumen_internal.h"

#define PI 3.14159265358979323846
#define REACH_SIGMAS 5.0
#define FOLLOW_DENSITY 0.04 /* of its log */
#define FOLLOW_SIGMA 0.01
#define ROUGH_REACH 5.0

enum { RULE_SIZES = 5, RULE_POINTS = 16 + 32 + 64 + 128 + 256 };
static const size_t rule_size[RULE_SIZES] = {16, 32, 64, 128, 256};

/* Legendre polynomial of degree n at z and its derivative. */
static double legendre(size_t n, double z, double *slope)
{
    double before = 1.0, here = z;
    for (size_t k = 2; k <= n; k++) {
        const double next = ((2.0 * (double)k - 1.0) * z * here - ((double)k - 1.0) * before) / (double)k;
        before = here;
        here = next;
    }
    *slope = (double)n * (z * here - before) / (z * z - 1.0);
    return here;
}

/* Where the rule of one size starts: sine, cosine and weight of each point. */
static const double *rule_of(const double *rule, double ratio, size_t *n)
{
    const size_t which = ratio < 1.5 ? 0 : ratio < 6.0 ? 1 : ratio < 12.0 ? 2 : ratio < 24.0 ? 3 : 4;
    for (size_t k = 0; k < which; k++)
        rule += 3 * rule_size[k];
    *n = rule_size[which];
    return rule;
}

/* One Gauss-Legendre rule of n points, n even: sine, cosine and weight of each. The nodes are symmetric. */
static void fill_rule(size_t n, double *at)
{
    for (size_t i = 0; i < n / 2; i++) {
        double z = cos(PI * ((double)i + 0.75) / ((double)n + 0.5)), slope = 1.0, step = 1.0;
        for (int round = 0; round < 8 && fabs(step) > 1e-14; round++) {
            step = legendre(n, z, &slope) / slope;
            z -= step;
        }
        (void)legendre(n, z, &slope);
        const double sine = sin(0.5 * PI * z), cosine = cos(0.5 * PI * z);
        const double weight = 0.5 * PI * 2.0 / ((1.0 - z * z) * slope * slope);
        double *const first = at + 3 * i, *const last = at + 3 * (n - 1 - i);
        first[0] = sine;
        last[0] = -sine;
        first[1] = last[1] = cosine;
        first[2] = last[2] = weight;
    }
}

const double *bk_lumen_rule_new(bk_arena *arena, bk_err *err)
{
    double *const rule = BK_NEW(arena, 3 * RULE_POINTS, double, err);
    if (rule == NULL)
        return NULL;
    double *at = rule;
    for (size_t k = 0; k < RULE_SIZES; at += 3 * rule_size[k++])
        fill_rule(rule_size[k], at);
    return rule;
}

/* The factors of one quadrature point that do not depend on x. */
typedef struct point {
    double at, w, d, dd, d_shift, m, mm, md;
} point;

static point point_of(const double *rule, double radius, double density)
{
    const double depth = 2.0 * density * radius * rule[1], weight = rule[2];
    const double seen = exp(-depth), edge = 2.0 * density * radius * seen * weight;
    point p;
    p.at = radius * rule[0];
    p.w = -expm1(-depth) * radius * rule[1] * weight;
    p.d = 0.5 * edge;
    p.dd = 0.25 * edge * (1.0 / radius - 2.0 * density * rule[1]);
    p.d_shift = -0.25 * edge * rule[0];
    p.m = depth * seen * radius * rule[1] * weight;
    p.mm = p.m * (1.0 - depth);
    p.md = p.d * (1.0 - depth);
    return p;
}

/* A quadrature point's factors, in the order of a node's values. */
typedef struct factors {
    bk_v4 first, second, third;
    float shift; /* of dd, besides */
} factors;

static factors factors_of(const point *p)
{
    const float w = (float)p->w, d = (float)p->d;
    return (factors){{w, w, d, w},
                     {d, (float)p->dd, (float)p->m, (float)p->m},
                     {(float)p->md, (float)p->mm, w, d},
                     (float)p->d_shift};
}

/* Add a point's share to a node that lies u from it; g is the Gaussian there. */
static void add_point(bk_lumen_node *node, const factors *f, double g, double u, double per_variance)
{
    const double q = u * u * per_variance;
    const float g0 = (float)g, g1 = (float)(-u * per_variance * g), g2 = (float)((q - 1.0) * per_variance * g);
    const float g3 = (float)(u * (3.0 - q) * per_variance * per_variance * g);
    float *const to = &node->w;
    bk_v4_store(to, bk_v4_load(to) + f->first * (bk_v4){g0, g1, g0, g2});
    bk_v4_store(to + 4, bk_v4_load(to + 4) + f->second * (bk_v4){g1, g0, g0, g1} + (bk_v4){0.0F, f->shift * g1, 0.0F, 0.0F});
    bk_v4_store(to + 8, bk_v4_load(to + 8) + f->third * (bk_v4){g0, g0, g3, g2});
}

bk_lumen_profile bk_lumen_profile_at(const double *rule, double x_px, double diameter_px, double density_per_px,
                                     double sigma_px)
{
    const double radius = 0.5 * diameter_px, per_variance = 1.0 / (sigma_px * sigma_px);
    const double height = 1.0 / (sigma_px * sqrt(2.0 * PI));
    size_t n;
    const double *at = rule_of(rule, radius / sigma_px, &n);
    bk_lumen_profile sum = {0};
    for (size_t i = 0; i < n; i++, at += 3) {
        const point p = point_of(at, radius, density_per_px);
        const double u = x_px - p.at, q = u * u * per_variance, g = height * exp(-0.5 * q);
        sum.w += p.w * g;
        sum.x -= p.w * u * per_variance * g;
        sum.d += p.d * g;
        sum.m += p.m * g;
        sum.sigma += sigma_px * p.w * (q - 1.0) * per_variance * g;
    }
    return sum;
}

bk_status bk_lumen_table_init(bk_lumen_table *table, const double *rule, double x_max_px, double diameter_max_px,
                              double sigma_min_px, bk_arena *arena, bk_err *err)
{
    memset(table, 0, sizeof *table);
    const double step = 0.25 * sigma_min_px;
    table->rule = rule;
    table->across = (size_t)ceil(x_max_px / step) + 2;
    table->rows = (size_t)ceil(diameter_max_px / step) + 2;
    table->node = BK_NEW_RAW(arena, table->across * table->rows, bk_lumen_node, err);
    table->made = BK_NEW(arena, table->rows, unsigned char, err);
    if (table->node == NULL || table->made == NULL)
        return BK_E_LIMIT;
    table->step_px = step;
    return BK_OK;
}

void bk_lumen_table_aim(bk_lumen_table *table, double density_per_px, double sigma_px)
{
    table->density_per_px = density_per_px;
    table->sigma_px = sigma_px;
    memset(table->made, 0, table->rows);
}

/* One row: for each quadrature point the Gaussian is stepped along x by multiplication alone. */
static void make_row(bk_lumen_table *table, size_t row)
{
    bk_lumen_node *const node = table->node + row * table->across;
    memset(node, 0, table->across * sizeof *node);
    const double sigma = table->sigma_px, radius = 0.5 * ((double)row + 0.5) * table->step_px;
    const double per_variance = 1.0 / (sigma * sigma), height = 1.0 / (sigma * sqrt(2.0 * PI));
    const double h = table->step_px, reach = REACH_SIGMAS * sigma;
    const double twice = exp(-h * h * per_variance);
    size_t n;
    const double *at = rule_of(table->rule, radius / sigma, &n);
    for (size_t i = 0; i < n; i++, at += 3) {
        const point p = point_of(at, radius, table->density_per_px);
        const factors f = factors_of(&p);
        const double first = p.at - reach, last = p.at + reach;
        if (last < 0.0)
            continue;
        const size_t from = first > 0.0 ? (size_t)(first / h) : 0, end = table->across - 1;
        size_t to = (size_t)(last / h) + 1;
        to = to < end ? to : end;
        const double u0 = (double)from * h - p.at;
        double g = height * exp(-0.5 * u0 * u0 * per_variance);
        double ratio = exp(-(u0 * h + 0.5 * h * h) * per_variance);
        for (size_t k = from; k < to; k++) {
            add_point(&node[k], &f, g, (double)k * h - p.at, per_variance);
            g *= ratio;
            ratio *= twice;
        }
    }
    table->made[row] = 1;
}

void bk_lumen_table_follow(bk_lumen_table *table, double density_per_px, double sigma_px, bool rough)
{
    const double reach = rough ? ROUGH_REACH : 1.0;
    if (table->sigma_px > 0.0 && fabs(log(density_per_px / table->density_per_px)) < reach * FOLLOW_DENSITY &&
        fabs(log(sigma_px / table->sigma_px)) < reach * FOLLOW_SIGMA)
        return;
    bk_lumen_table_aim(table, density_per_px, sigma_px);
}

/* The node nearest to each of four places, as columns of values: f[i][lane]. */
static void nearest(bk_lumen_table *table, const bk_i4 row, const bk_i4 column, bk_v4 f[12])
{
    const float *from[BK_V4];
    for (int lane = 0; lane < BK_V4; lane++) {
        const size_t at = (size_t)row[lane];
        if (!table->made[at])
            make_row(table, at);
        from[lane] = &table->node[at * table->across + (size_t)column[lane]].w;
    }
    for (size_t i = 0; i < 12; i += 4) {
        for (size_t lane = 0; lane < BK_V4; lane++)
            f[i + lane] = bk_v4_load(from[lane] + i);
        bk_v4_transpose(&f[i], &f[i + 1], &f[i + 2], &f[i + 3]);
    }
}

void bk_lumen_table_at4(bk_lumen_table *table, bk_v4 x_px, bk_v4 diameter_px, bk_v4 log_shift, float sigma_px,
                        bk_lumen_profile4 *out)
{
    const float step = (float)table->step_px, per_step = 1.0F / step, sigma = (float)table->sigma_px;
    const bk_v4 across = bk_v4_min(bk_v4_abs(x_px) * per_step, bk_v4_all((float)(table->across - 1)));
    const bk_v4 down = bk_v4_min(bk_v4_max(diameter_px * per_step, bk_v4_all(0.0F)), bk_v4_all((float)(table->rows - 1)));
    const bk_i4 column = __builtin_convertvector(across + 0.5F, bk_i4), row = __builtin_convertvector(down, bk_i4);
    bk_v4 f[12];
    nearest(table, row, column, f);
    const bk_v4 a = (across - __builtin_convertvector(column, bk_v4)) * step;
    const bk_v4 b = (down - __builtin_convertvector(row, bk_v4) - 0.5F) * step;
    const bk_v4 k = log_shift, aa = 0.5F * a * a;
    const bk_v4 w = f[0], x = f[1], d = f[2], xx = f[3], xd = f[4], dd = f[5], m = f[6], mx = f[7], md = f[8], mm = f[9],
                xxx = f[10], xxd = f[11];
    const bk_v4 spread = xx + a * xxx + b * xxd;
    const float wider = (sigma_px - sigma) * sigma;
    out->w = w + a * (x + a * (0.5F * xx + a * (1.0F / 6.0F) * xxx)) + b * (d + a * xd + aa * xxd + 0.5F * b * dd) +
             k * (m + a * mx + b * md + 0.5F * k * mm) + wider * spread;
    out->d = d + a * xd + aa * xxd + b * dd + k * md + wider * xxd;
    out->m = m + a * mx + b * md + k * mm;
    out->sigma = sigma_px * spread;
    const bk_v4 slope = x + a * xx + b * xd + aa * xxx + a * b * xxd + k * mx + wider * xxx;
    const bk_i4 negative = x_px < bk_v4_all(0.0F);
    out->x = (bk_v4)((bk_i4)slope ^ (negative & (bk_i4){INT32_MIN, INT32_MIN, INT32_MIN, INT32_MIN}));
}
