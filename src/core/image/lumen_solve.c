/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Normal equations with an arrow shape: one band per limb (its splines, ordered along s), a border of a few
   unknowns (density, blur) and a small corner. Band Cholesky per limb, then the Schur complement of the corner. */
#include <math.h>
#include <string.h>

#include "core/image/lumen_internal.h"

typedef double two __attribute__((vector_size(16)));

static two load_two(const double *from)
{
    two v;
    memcpy(&v, from, sizeof v);
    return v;
}

typedef double four __attribute__((vector_size(32)));

/* Dot product in eight running sums: the order of additions is fixed, so that results are the same everywhere. */
BK_INLINE double dot(const double *p, const double *q, size_t n)
{
    four a = {0.0, 0.0, 0.0, 0.0}, b = a, x, y;
    size_t k = 0;
    for (; k + 8 <= n; k += 8) {
        memcpy(&x, p + k, sizeof x);
        memcpy(&y, q + k, sizeof y);
        a += x * y;
        memcpy(&x, p + k + 4, sizeof x);
        memcpy(&y, q + k + 4, sizeof y);
        b += x * y;
    }
    if (k + 4 <= n) {
        memcpy(&x, p + k, sizeof x);
        memcpy(&y, q + k, sizeof y);
        a += x * y;
        k += 4;
    }
    a += b;
    double sum = (a[0] + a[2]) + (a[1] + a[3]);
    for (; k < n; k++)
        sum += p[k] * q[k];
    return sum;
}

BK_WIDE bool bk_lumen_band_factor(double *a, size_t n, size_t band)
{
    const size_t width = band + 1;
    for (size_t i = 0; i < n; i++) {
        double *const row = a + i * width;
        const size_t first = i > band ? i - band : 0;
        for (size_t j = first; j < i; j++) {
            const double *const other = a + j * width;
            const size_t low = j > band ? j - band : 0, from = low > first ? low : first;
            double *const at = row + (j + band - i);
            *at = (*at - dot(row + (from + band - i), other + (from + band - j), j - from)) / other[band];
        }
        const double *const own = row + (first + band - i);
        const double rest = row[band] - dot(own, own, i - first);
        if (!(rest > 0.0) || !isfinite(rest))
            return false;
        row[band] = sqrt(rest);
    }
    return true;
}

/* Four right sides at a time stay in registers; what remains goes one by one. */
BK_INLINE void forward_four(const double *l, size_t n, size_t band, double *y, size_t count)
{
    for (size_t i = 0; i < n; i++) {
        const double *const row = l + i * (band + 1);
        double *const yi = y + i * count;
        two a = load_two(yi), b = load_two(yi + 2);
        for (size_t j = i > band ? i - band : 0; j < i; j++) {
            const double v = row[j + band - i], *const yj = y + j * count;
            a -= v * load_two(yj);
            b -= v * load_two(yj + 2);
        }
        a /= row[band];
        b /= row[band];
        memcpy(yi, &a, sizeof a);
        memcpy(yi + 2, &b, sizeof b);
    }
}

BK_INLINE void forward_one(const double *l, size_t n, size_t band, double *y, size_t count)
{
    for (size_t i = 0; i < n; i++) {
        const double *const row = l + i * (band + 1);
        double sum = y[i * count];
        for (size_t j = i > band ? i - band : 0; j < i; j++)
            sum -= row[j + band - i] * y[j * count];
        y[i * count] = sum / row[band];
    }
}

BK_WIDE void bk_lumen_band_forward(const double *l, size_t n, size_t band, double *y, size_t count)
{
    size_t k = 0;
    for (; k + 4 <= count; k += 4)
        forward_four(l, n, band, y + k, count);
    for (; k < count; k++)
        forward_one(l, n, band, y + k, count);
}

void bk_lumen_band_back(const double *l, size_t n, size_t band, double *y, size_t count)
{
    for (size_t i = n; i-- > 0;) {
        const double *const row = l + i * (band + 1);
        double *const yi = y + i * count;
        for (size_t k = 0; k < count; k++)
            yi[k] /= row[band];
        for (size_t j = i > band ? i - band : 0; j < i; j++) {
            const double v = row[j + band - i];
            double *const yj = y + j * count;
            for (size_t k = 0; k < count; k++)
                yj[k] -= v * yi[k];
        }
    }
}

size_t bk_lumen_corner_index(size_t limb, size_t border)
{
    return border < BK_LUMEN_DENSITY_N ? limb * BK_LUMEN_DENSITY_N + border
                                       : BK_LUMEN_BLUR + border - BK_LUMEN_DENSITY_N;
}

/* corner -= border' border, corner_right -= border' right, with border and right already times L^-1. */
static void take_limb(bk_lumen_normal *normal, size_t limb)
{
    for (size_t i = 0; i < normal->n[limb]; i++) {
        const double *const b = normal->border[limb] + i * BK_LUMEN_BORDER_N;
        for (size_t p = 0; p < BK_LUMEN_BORDER_N; p++) {
            const size_t row = bk_lumen_corner_index(limb, p);
            normal->corner_right[row] -= b[p] * normal->right[limb][i];
            for (size_t q = 0; q < BK_LUMEN_BORDER_N; q++)
                normal->corner[row * BK_LUMEN_CORNER_N + bk_lumen_corner_index(limb, q)] -= b[p] * b[q];
        }
    }
}

/* The dense corner in band form is a band of its own size. */
static void corner_to_band(const double *corner, double *band)
{
    const size_t n = BK_LUMEN_CORNER_N;
    memset(band, 0, n * n * sizeof *band);
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j <= i; j++)
            band[i * n + (j + n - 1 - i)] = corner[i * n + j];
}

bool bk_lumen_normal_solve(bk_lumen_normal *normal)
{
    double band[BK_LUMEN_CORNER_N * BK_LUMEN_CORNER_N];
    normal->gain = 0.0;
    for (size_t limb = 0; limb < BK_LUMEN_LIMBS; limb++) {
        const size_t n = normal->n[limb], w = normal->band[limb];
        if (!bk_lumen_band_factor(normal->a[limb], n, w))
            return false;
        bk_lumen_band_forward(normal->a[limb], n, w, normal->border[limb], BK_LUMEN_BORDER_N);
        bk_lumen_band_forward(normal->a[limb], n, w, normal->right[limb], 1);
        normal->gain += dot(normal->right[limb], normal->right[limb], n);
        take_limb(normal, limb);
    }
    corner_to_band(normal->corner, band);
    memcpy(normal->corner, band, sizeof band);
    if (!bk_lumen_band_factor(normal->corner, BK_LUMEN_CORNER_N, BK_LUMEN_CORNER_N - 1))
        return false;
    bk_lumen_band_forward(normal->corner, BK_LUMEN_CORNER_N, BK_LUMEN_CORNER_N - 1, normal->corner_right, 1);
    normal->gain += dot(normal->corner_right, normal->corner_right, BK_LUMEN_CORNER_N);
    bk_lumen_band_back(normal->corner, BK_LUMEN_CORNER_N, BK_LUMEN_CORNER_N - 1, normal->corner_right, 1);
    for (size_t limb = 0; limb < BK_LUMEN_LIMBS; limb++) {
        for (size_t i = 0; i < normal->n[limb]; i++)
            for (size_t p = 0; p < BK_LUMEN_BORDER_N; p++)
                normal->right[limb][i] -= normal->border[limb][i * BK_LUMEN_BORDER_N + p] *
                                          normal->corner_right[bk_lumen_corner_index(limb, p)];
        bk_lumen_band_back(normal->a[limb], normal->n[limb], normal->band[limb], normal->right[limb], 1);
    }
    return true;
}

void bk_lumen_corner_covariance(const bk_lumen_normal *normal, double *out)
{
    const size_t n = BK_LUMEN_CORNER_N;
    memset(out, 0, n * n * sizeof *out);
    for (size_t i = 0; i < n; i++)
        out[i * n + i] = 1.0;
    bk_lumen_band_forward(normal->corner, n, n - 1, out, n);
    bk_lumen_band_back(normal->corner, n, n - 1, out, n);
}

BK_WIDE void bk_lumen_normal_covariance(const bk_lumen_normal *normal, size_t limb, const size_t *pick, size_t count,
                                double *work, double *out)
{
    const size_t n = normal->n[limb];
    double corner[BK_LUMEN_CORNER_N * BK_LUMEN_CORNER_N];
    bk_lumen_corner_covariance(normal, corner);
    memset(work, 0, n * count * sizeof *work);
    for (size_t k = 0; k < count; k++)
        work[pick[k] * count + k] = 1.0;
    bk_lumen_band_forward(normal->a[limb], n, normal->band[limb], work, count);
    memset(out, 0, count * count * sizeof *out);
    for (size_t i = 0, reached = 0; i < n; i++) { /* (L^-1 E)' (L^-1 E); column k begins at row pick[k] */
        const double *const row = work + i * count;
        while (reached < count && pick[reached] <= i)
            reached++;
        for (size_t p = 0; p < reached; p++)
            for (size_t q = 0; q <= p; q++)
                out[p * count + q] += row[p] * row[q];
    }
    for (size_t p = 0; p < count; p++)
        for (size_t q = 0; q < p; q++)
            out[q * count + p] = out[p * count + q];
    for (size_t p = 0; p < count; p++) { /* what the border costs: v = E' A^-1 border, + v corner^-1 v' */
        double v[BK_LUMEN_BORDER_N], u[BK_LUMEN_BORDER_N];
        memset(v, 0, sizeof v);
        for (size_t i = 0; i < n; i++)
            for (size_t b = 0; b < BK_LUMEN_BORDER_N; b++)
                v[b] += work[i * count + p] * normal->border[limb][i * BK_LUMEN_BORDER_N + b];
        for (size_t q = 0; q < count; q++) {
            memset(u, 0, sizeof u);
            for (size_t i = 0; i < n; i++)
                for (size_t b = 0; b < BK_LUMEN_BORDER_N; b++)
                    u[b] += work[i * count + q] * normal->border[limb][i * BK_LUMEN_BORDER_N + b];
            for (size_t b = 0; b < BK_LUMEN_BORDER_N; b++)
                for (size_t c = 0; c < BK_LUMEN_BORDER_N; c++)
                    out[p * count + q] += v[b] * u[c] *
                                          corner[bk_lumen_corner_index(limb, b) * BK_LUMEN_CORNER_N +
                                                 bk_lumen_corner_index(limb, c)];
        }
    }
}
