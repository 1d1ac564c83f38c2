/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A round lumen of diameter D = 2R and density m absorbs 1 - exp(-2 m sqrt(R^2 - x^2)) at x. Blurred by a Gaussian
   and written with x = R sin t:
       W(x) = integral over t of G(x - R sin t) (1 - exp(-2 m R cos t)) R cos t dt,   -pi/2 < t < pi/2,
   whose integrand is analytic, so Gauss-Legendre converges exponentially. Partial integration gives
       dW/dR = integral of G(x - R sin t) exp(-2 m R cos t) 2 m R dt,
   without the square-root singularity of the naive derivative; dW/dsigma = sigma d2W/dx2 (heat equation). */
#include <math.h>

#include "core/image/lumen_internal.h"

#define PI 3.14159265358979323846

enum { RULE_SIZES = 5, RULE_POINTS = 16 + 32 + 64 + 128 + 256 };
static const size_t rule_size[RULE_SIZES] = {16, 32, 64, 128, 256};

/* Where the rule of one size starts: sine, cosine and weight of each point. */
const double *bk_lumen_rule_of(const double *rule, double ratio, size_t *n)
{
    const size_t which = ratio < 1.5 ? 0 : ratio < 6.0 ? 1 : ratio < 12.0 ? 2 : ratio < 24.0 ? 3 : 4;
    for (size_t k = 0; k < which; k++)
        rule += 3 * rule_size[k];
    *n = rule_size[which];
    return rule;
}

enum { HALF_MAX = 128 };

/* Legendre polynomials of degree n and their slopes at m places. */
BK_WIDE static void legendre(size_t n, const double *z, size_t m, double *value, double *slope)
{
    double before[HALF_MAX];
    for (size_t i = 0; i < m; i++) {
        before[i] = 1.0;
        value[i] = z[i];
    }
    for (size_t k = 2; k <= n; k++) {
        const double p = (2.0 * (double)k - 1.0) / (double)k, q = ((double)k - 1.0) / (double)k;
        for (size_t i = 0; i < m; i++) {
            const double next = p * z[i] * value[i] - q * before[i];
            before[i] = value[i];
            value[i] = next;
        }
    }
    for (size_t i = 0; i < m; i++)
        slope[i] = (double)n * (z[i] * value[i] - before[i]) / (z[i] * z[i] - 1.0);
}

/* One Gauss-Legendre rule of n points, n even: sine, cosine and weight of each. The nodes are symmetric. */
static void fill_rule(size_t n, double *at)
{
    double z[HALF_MAX], value[HALF_MAX], slope[HALF_MAX];
    for (size_t i = 0; i < n / 2; i++)
        z[i] = cos(PI * ((double)i + 0.75) / ((double)n + 0.5));
    for (int round = 0; round < 4; round++) { /* Newton doubles the digits: from 1e-3 to beyond those of a double */
        legendre(n, z, n / 2, value, slope);
        for (size_t i = 0; i < n / 2; i++)
            z[i] -= value[i] / slope[i];
    }
    legendre(n, z, n / 2, value, slope);
    for (size_t i = 0; i < n / 2; i++) {
        const double sine = sin(0.5 * PI * z[i]), cosine = cos(0.5 * PI * z[i]);
        const double weight = 0.5 * PI * 2.0 / ((1.0 - z[i] * z[i]) * slope[i] * slope[i]);
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

bk_lumen_point bk_lumen_point_of(const double *rule, double radius, double density)
{
    const double depth = 2.0 * density * radius * rule[1], weight = rule[2];
    const double seen = exp(-depth), edge = 2.0 * density * radius * seen * weight;
    bk_lumen_point p;
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

bk_lumen_profile bk_lumen_profile_at(const double *rule, double x_px, double diameter_px, double density_per_px,
                                     double sigma_px)
{
    const double radius = 0.5 * diameter_px, per_variance = 1.0 / (sigma_px * sigma_px);
    const double height = 1.0 / (sigma_px * sqrt(2.0 * PI));
    size_t n;
    const double *at = bk_lumen_rule_of(rule, radius / sigma_px, &n);
    bk_lumen_profile sum = {0};
    for (size_t i = 0; i < n; i++, at += 3) {
        const bk_lumen_point p = bk_lumen_point_of(at, radius, density_per_px);
        const double u = x_px - p.at, q = u * u * per_variance, g = height * exp(-0.5 * q);
        sum.w += p.w * g;
        sum.x -= p.w * u * per_variance * g;
        sum.d += p.d * g;
        sum.m += p.m * g;
        sum.sigma += sigma_px * p.w * (q - 1.0) * per_variance * g;
    }
    return sum;
}
