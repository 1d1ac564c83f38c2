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
#define REACH_SIGMAS 6.0

enum { RULE_SIZES = 3 };
static const size_t rule_size[RULE_SIZES] = {16, 32, 64};

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
    const size_t which = ratio < 1.5 ? 0 : ratio < 6.0 ? 1 : 2;
    for (size_t k = 0; k < which; k++)
        rule += 3 * rule_size[k];
    *n = rule_size[which];
    return rule;
}

const double *bk_lumen_rule_new(bk_arena *arena, bk_err *err)
{
    double *const rule = BK_NEW(arena, 3 * (16 + 32 + 64), double, err);
    if (rule == NULL)
        return NULL;
    double *at = rule;
    for (size_t k = 0; k < RULE_SIZES; k++) {
        const size_t n = rule_size[k];
        for (size_t i = 0; i < n; i++, at += 3) {
            double z = cos(PI * ((double)i + 0.75) / ((double)n + 0.5)), slope = 1.0;
            for (int round = 0; round < 8; round++)
                z -= legendre(n, z, &slope) / slope;
            (void)legendre(n, z, &slope);
            at[0] = sin(0.5 * PI * z);
            at[1] = cos(0.5 * PI * z);
            at[2] = 0.5 * PI * 2.0 / ((1.0 - z * z) * slope * slope);
        }
    }
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

static void add_point(bk_lumen_node *node, const point *p, double g, double u, double per_variance)
{
    const double g1 = -u * per_variance * g, q = u * u * per_variance;
    const double g2 = (q - 1.0) * per_variance * g, g3 = u * (3.0 - q) * per_variance * per_variance * g;
    node->w += (float)(p->w * g);
    node->x += (float)(p->w * g1);
    node->xx += (float)(p->w * g2);
    node->xxx += (float)(p->w * g3);
    node->d += (float)(p->d * g);
    node->xd += (float)(p->d * g1);
    node->xxd += (float)(p->d * g2);
    node->dd += (float)(p->dd * g + p->d_shift * g1);
    node->m += (float)(p->m * g);
    node->mx += (float)(p->m * g1);
    node->mm += (float)(p->mm * g);
    node->md += (float)(p->md * g);
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
    table->node = BK_NEW(arena, table->across * table->rows, bk_lumen_node, err);
    table->made = BK_NEW(arena, table->rows, unsigned char, err);
    if (table->node == NULL || table->made == NULL)
        return BK_E_LIMIT;
    table->step_px = step;
    table->per_step = 1.0 / step;
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
        const double first = p.at - reach, last = p.at + reach;
        if (last < 0.0)
            continue;
        const size_t from = first > 0.0 ? (size_t)(first / h) : 0;
        size_t to = (size_t)(last / h) + 1;
        to = to < table->across ? to : table->across;
        const double u0 = (double)from * h - p.at;
        double g = height * exp(-0.5 * u0 * u0 * per_variance);
        double ratio = exp(-(u0 * h + 0.5 * h * h) * per_variance);
        for (size_t k = from; k < to; k++) {
            add_point(&node[k], &p, g, (double)k * h - p.at, per_variance);
            g *= ratio;
            ratio *= twice;
        }
    }
    table->made[row] = 1;
}

bk_lumen_profile bk_lumen_table_at(bk_lumen_table *table, double x_px, double diameter_px, double log_shift)
{
    const double across = fabs(x_px) * table->per_step, down = diameter_px * table->per_step;
    const size_t column = (size_t)(across + 0.5);
    if (column >= table->across)
        return (bk_lumen_profile){0};
    size_t row = down > 0.0 ? (size_t)down : 0;
    row = row < table->rows ? row : table->rows - 1;
    if (!table->made[row])
        make_row(table, row);
    const bk_lumen_node *const q = table->node + row * table->across + column;
    const double a = (across - (double)column) * table->step_px, b = (down - (double)row - 0.5) * table->step_px;
    const double sx = (double)q->x + a * (double)q->xx + b * (double)q->xd;
    const double k = log_shift;
    bk_lumen_profile out;
    out.x = sx + 0.5 * a * a * (double)q->xxx + a * b * (double)q->xxd + k * (double)q->mx;
    out.w = (double)q->w + a * ((double)q->x + 0.5 * a * ((double)q->xx + a / 3.0 * (double)q->xxx)) +
            b * ((double)q->d + a * ((double)q->xd + 0.5 * a * (double)q->xxd) + 0.5 * b * (double)q->dd) +
            k * ((double)q->m + a * (double)q->mx + b * (double)q->md + 0.5 * k * (double)q->mm);
    out.d = (double)q->d + a * ((double)q->xd + 0.5 * a * (double)q->xxd) + b * (double)q->dd + k * (double)q->md;
    out.m = (double)q->m + a * (double)q->mx + b * (double)q->md + k * (double)q->mm;
    out.sigma = table->sigma_px * ((double)q->xx + a * (double)q->xxx + b * (double)q->xxd);
    if (x_px < 0.0)
        out.x = -out.x;
    return out;
}
