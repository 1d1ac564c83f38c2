/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Four floats at a time, in the vector types that gcc and clang share. Element-wise arithmetic only, in a fixed
   order: the same bits on every machine. Private to the lumen fit. */
#ifndef BK_CORE_IMAGE_LUMEN_VECTOR_H
#define BK_CORE_IMAGE_LUMEN_VECTOR_H

#include <math.h>
#include <stdint.h>
#include <string.h>

#define BK_V4 4

typedef float bk_v4 __attribute__((vector_size(16)));
typedef int32_t bk_i4 __attribute__((vector_size(16)));

static inline bk_v4 bk_v4_load(const float *from)
{
    bk_v4 v;
    memcpy(&v, from, sizeof v);
    return v;
}

static inline void bk_v4_store(float *to, bk_v4 v)
{
    memcpy(to, &v, sizeof v);
}

static inline bk_v4 bk_v4_all(float value)
{
    return (bk_v4){value, value, value, value};
}

static inline bk_v4 bk_v4_max(bk_v4 a, bk_v4 b)
{
    const bk_i4 first = a > b;
    return (bk_v4)(((bk_i4)a & first) | ((bk_i4)b & ~first));
}

static inline bk_v4 bk_v4_min(bk_v4 a, bk_v4 b)
{
    return -bk_v4_max(-a, -b);
}

static inline bk_v4 bk_v4_abs(bk_v4 a)
{
    const int32_t m = INT32_MAX;
    return (bk_v4)((bk_i4)a & (bk_i4){m, m, m, m});
}

static inline bk_v4 bk_v4_sqrt(bk_v4 a)
{
    return (bk_v4){sqrtf(a[0]), sqrtf(a[1]), sqrtf(a[2]), sqrtf(a[3])};
}

static inline float bk_v4_sum(bk_v4 a)
{
    return (a[0] + a[1]) + (a[2] + a[3]);
}

/* exp, relative error below 3e-7 for |a| < 80: 2^n times a Taylor polynomial on |r| <= ln(2)/2. */
static inline bk_v4 bk_v4_exp(bk_v4 a)
{
    const bk_v4 scaled = bk_v4_min(bk_v4_max(a, bk_v4_all(-80.0F)), bk_v4_all(80.0F)) * 1.44269504F;
    const bk_i4 n = __builtin_convertvector(scaled + 128.5F, bk_i4) - 128; /* floor(scaled + 1/2) */
    const bk_v4 r = (scaled - __builtin_convertvector(n, bk_v4)) * 0.693147181F;
    bk_v4 p = 1.0F + r * (1.0F / 7.0F);
    p = 1.0F + r * (1.0F / 6.0F) * p;
    p = 1.0F + r * (1.0F / 5.0F) * p;
    p = 1.0F + r * (1.0F / 4.0F) * p;
    p = 1.0F + r * (1.0F / 3.0F) * p;
    p = 1.0F + r * 0.5F * p;
    p = 1.0F + r * p;
    return (bk_v4)((bk_i4)p + (n << 23));
}

/* Cubic B-spline (support -2..2) at u. */
static inline bk_v4 bk_v4_bspline(bk_v4 u)
{
    const bk_v4 away = bk_v4_abs(u), zero = bk_v4_all(0.0F);
    const bk_v4 two = bk_v4_max(2.0F - away, zero), one = bk_v4_max(1.0F - away, zero);
    return (two * two * two - 4.0F * one * one * one) * (1.0F / 6.0F);
}

/* Rows to columns. */
static inline void bk_v4_transpose(bk_v4 *a, bk_v4 *b, bk_v4 *c, bk_v4 *d)
{
    const bk_v4 ab_low = __builtin_shufflevector(*a, *b, 0, 4, 1, 5), ab_high = __builtin_shufflevector(*a, *b, 2, 6, 3, 7);
    const bk_v4 cd_low = __builtin_shufflevector(*c, *d, 0, 4, 1, 5), cd_high = __builtin_shufflevector(*c, *d, 2, 6, 3, 7);
    *a = __builtin_shufflevector(ab_low, cd_low, 0, 1, 4, 5);
    *b = __builtin_shufflevector(ab_low, cd_low, 2, 3, 6, 7);
    *c = __builtin_shufflevector(ab_high, cd_high, 0, 1, 4, 5);
    *d = __builtin_shufflevector(ab_high, cd_high, 2, 3, 6, 7);
}

#endif
