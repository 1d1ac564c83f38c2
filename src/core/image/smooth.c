/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/smooth.h"

#include <math.h>

/* The four cubic B-splines that are not zero at fraction t of a knot interval. */
static void cubic_basis(double t, double out[4])
{
    const double u = 1 - t;
    out[0] = u * u * u / 6;
    out[1] = (3 * t * t * t - 6 * t * t + 4) / 6;
    out[2] = (3 * u * u * u - 6 * u * u + 4) / 6;
    out[3] = t * t * t / 6;
}

static void fill_basis(bk_smooth *s, double step, double knot_step)
{
    for (size_t i = 0; i < s->n; i++) {
        const double at = (double)i * step / knot_step;
        size_t k = (size_t)at;
        if (k > s->knots_n - 4)
            k = s->knots_n - 4;
        cubic_basis(at - (double)k, s->basis + i * s->knots_n + k);
    }
}

/* Normal matrix of the data: only neighbours within three knots meet. */
static void add_data(const bk_smooth *s, const double *value, const double *weight, double *matrix, double *right)
{
    const size_t m = s->knots_n;
    for (size_t i = 0; i < s->n; i++) {
        const double *row = s->basis + i * m;
        size_t first = 0;
        while (first < m && row[first] == 0)
            first++;
        const size_t end = first + 4 < m ? first + 4 : m;
        for (size_t j = first; j < end; j++) {
            right[j] += weight[i] * value[i] * row[j];
            for (size_t k = first; k < end; k++)
                matrix[j * m + k] += weight[i] * row[j] * row[k];
        }
    }
}

static void add_bending(double *matrix, size_t m, double knot_step, double bend)
{
    const double factor = 1 / (knot_step * knot_step * knot_step * bend * bend);
    static const double difference[3] = {1, -2, 1};
    for (size_t k = 0; k + 2 < m; k++)
        for (size_t a = 0; a < 3; a++)
            for (size_t b = 0; b < 3; b++)
                matrix[(k + a) * m + k + b] += factor * difference[a] * difference[b];
}

/* Lower Cholesky factor in place. */
static bool factor_positive(double *a, size_t n)
{
    for (size_t j = 0; j < n; j++) {
        double d = a[j * n + j];
        for (size_t k = 0; k < j; k++)
            d -= a[j * n + k] * a[j * n + k];
        if (!(d > 0) || !isfinite(d))
            return false;
        d = sqrt(d);
        a[j * n + j] = d;
        for (size_t i = j + 1; i < n; i++) {
            double v = a[i * n + j];
            for (size_t k = 0; k < j; k++)
                v -= a[i * n + k] * a[j * n + k];
            a[i * n + j] = v / d;
        }
    }
    return true;
}

bool bk_solve_positive(double *a, size_t n, double *right)
{
    if (!factor_positive(a, n))
        return false;
    for (size_t i = 0; i < n; i++) {
        for (size_t k = 0; k < i; k++)
            right[i] -= a[i * n + k] * right[k];
        right[i] /= a[i * n + i];
    }
    for (size_t i = n; i-- > 0;) {
        right[i] /= a[i * n + i];
        for (size_t k = 0; k < i; k++)
            right[k] -= a[i * n + k] * right[i];
    }
    return true;
}

bool bk_invert_positive(double *a, size_t n)
{
    if (!factor_positive(a, n))
        return false;
    /* inverse of the factor, in place */
    for (size_t j = 0; j < n; j++) {
        a[j * n + j] = 1 / a[j * n + j];
        for (size_t i = j + 1; i < n; i++) {
            double v = 0;
            for (size_t k = j; k < i; k++)
                v -= a[i * n + k] * a[k * n + j];
            a[i * n + j] = v / a[i * n + i];
        }
    }
    /* product of its transpose with it */
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j <= i; j++) {
            double v = 0;
            for (size_t k = i; k < n; k++)
                v += a[k * n + i] * a[k * n + j];
            a[j * n + i] = v;
        }
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < i; j++)
            a[i * n + j] = a[j * n + i];
    return true;
}

bk_status bk_smooth_fit(const double *value, const double *weight, size_t n, double step, double knot_step,
                        double bend, bk_arena *arena, bk_smooth *out, bk_err *err)
{
    const size_t m = (size_t)ceil((double)(n - 1) * step / knot_step - 1e-9) + 3;
    *out = (bk_smooth){.n = n, .knots_n = m < 4 ? 4 : m};
    out->basis = BK_NEW(arena, n * out->knots_n, double, err);
    out->coefficients = BK_NEW(arena, out->knots_n, double, err);
    out->covariance = BK_NEW(arena, out->knots_n * out->knots_n, double, err);
    double *right = BK_NEW(arena, out->knots_n, double, err);
    if (!out->basis || !out->coefficients || !out->covariance || !right)
        return err ? err->status : BK_E_LIMIT;
    fill_basis(out, step, knot_step);
    add_data(out, value, weight, out->covariance, right);
    add_bending(out->covariance, out->knots_n, knot_step, bend);
    if (!bk_invert_positive(out->covariance, out->knots_n))
        return bk_fail(err, BK_E_NOTHING, "too few usable values were found to draw a curve through");
    for (size_t j = 0; j < out->knots_n; j++)
        for (size_t k = 0; k < out->knots_n; k++)
            out->coefficients[j] += out->covariance[j * out->knots_n + k] * right[k];
    return BK_OK;
}

double bk_smooth_value(const bk_smooth *smooth, size_t i)
{
    double v = 0;
    for (size_t k = 0; k < smooth->knots_n; k++)
        v += smooth->basis[i * smooth->knots_n + k] * smooth->coefficients[k];
    return v;
}

double bk_smooth_sd(const bk_smooth *smooth, size_t i)
{
    const size_t m = smooth->knots_n;
    const double *row = smooth->basis + i * m;
    double v = 0;
    for (size_t j = 0; j < m; j++)
        if (row[j] != 0)
            for (size_t k = 0; k < m; k++)
                v += row[j] * row[k] * smooth->covariance[j * m + k];
    return sqrt(fmax(v, 0));
}
