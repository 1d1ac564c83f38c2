/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Eight floats at a time, in the vector types that gcc and clang share. Element-wise arithmetic only, in a fixed
   order: the same bits on every machine, whether it has registers of eight or takes them four by four. Private to
   core: the lumen fit and the view search. */
#ifndef BK_CORE_IMAGE_LUMEN_VECTOR_H
#define BK_CORE_IMAGE_LUMEN_VECTOR_H

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <string.h>

#include "core/image/wide.h"

#pragma GCC diagnostic ignored "-Wpsabi" /* every function here is inlined: no eight floats are ever passed */

#define BK_V8 8

BK_INLINE bk_v8 bk_v8_load(const float *from)
{
    bk_v8 v;
    memcpy(&v, from, sizeof v);
    return v;
}

BK_INLINE void bk_v8_store(float *to, bk_v8 v)
{
    memcpy(to, &v, sizeof v);
}

BK_INLINE bk_v8 bk_v8_all(float value)
{
    return (bk_v8){value, value, value, value, value, value, value, value};
}

BK_INLINE bk_v8 bk_v8_where(bk_i8 condition, bk_v8 yes, bk_v8 no)
{
    return (bk_v8)(((bk_i8)yes & condition) | ((bk_i8)no & ~condition));
}

BK_INLINE bk_v8 bk_v8_max(bk_v8 a, bk_v8 b)
{
    return bk_v8_where(a > b, a, b);
}

BK_INLINE bk_v8 bk_v8_min(bk_v8 a, bk_v8 b)
{
    return bk_v8_where(a < b, a, b);
}

BK_INLINE bk_v8 bk_v8_abs(bk_v8 a)
{
    return (bk_v8)((bk_i8)a & (INT32_MAX - (bk_i8){0}));
}

BK_INLINE bk_v8 bk_v8_sqrt(bk_v8 a)
{
    return (bk_v8){sqrtf(a[0]), sqrtf(a[1]), sqrtf(a[2]), sqrtf(a[3]), sqrtf(a[4]), sqrtf(a[5]), sqrtf(a[6]), sqrtf(a[7])};
}

BK_INLINE float bk_v8_sum(bk_v8 a)
{
    return ((a[0] + a[4]) + (a[1] + a[5])) + ((a[2] + a[6]) + (a[3] + a[7]));
}

BK_INLINE bool bk_v8_any(bk_i8 a)
{
    int64_t part[4];
    memcpy(part, &a, sizeof part);
    return ((part[0] | part[1]) | (part[2] | part[3])) != 0;
}

/* exp, relative error below 3e-7 for |a| < 80: 2^n times a Taylor polynomial on |r| <= ln(2)/2. */
BK_INLINE bk_v8 bk_v8_exp(bk_v8 a)
{
    const bk_v8 scaled = bk_v8_min(bk_v8_max(a, bk_v8_all(-80.0F)), bk_v8_all(80.0F)) * 1.44269504F;
    const bk_i8 n = __builtin_convertvector(scaled + 128.5F, bk_i8) - 128; /* floor(scaled + 1/2) */
    const bk_v8 r = (scaled - __builtin_convertvector(n, bk_v8)) * 0.693147181F;
    bk_v8 p = 1.0F + r * (1.0F / 7.0F);
    p = 1.0F + r * (1.0F / 6.0F) * p;
    p = 1.0F + r * (1.0F / 5.0F) * p;
    p = 1.0F + r * (1.0F / 4.0F) * p;
    p = 1.0F + r * (1.0F / 3.0F) * p;
    p = 1.0F + r * 0.5F * p;
    p = 1.0F + r * p;
    return (bk_v8)((bk_i8)p + (n << 23));
}

/* Cubic B-spline (support -2..2) at u. */
BK_INLINE bk_v8 bk_v8_bspline(bk_v8 u)
{
    const bk_v8 away = bk_v8_abs(u), zero = bk_v8_all(0.0F);
    const bk_v8 two = bk_v8_max(2.0F - away, zero), one = bk_v8_max(1.0F - away, zero);
    return (two * two * two - 4.0F * one * one * one) * (1.0F / 6.0F);
}

/* Four floats from each of two places, side by side. */
BK_INLINE bk_v8 bk_v8_pair(const float *low, const float *high)
{
    bk_v4 a, b;
    memcpy(&a, low, sizeof a);
    memcpy(&b, high, sizeof b);
    return __builtin_shufflevector(a, b, 0, 1, 2, 3, 4, 5, 6, 7);
}

/* Rows to columns, in the lower and the upper half each for itself. */
BK_INLINE void bk_v8_transpose(bk_v8 *a, bk_v8 *b, bk_v8 *c, bk_v8 *d)
{
    const bk_v8 ab_low = __builtin_shufflevector(*a, *b, 0, 8, 1, 9, 4, 12, 5, 13),
                ab_high = __builtin_shufflevector(*a, *b, 2, 10, 3, 11, 6, 14, 7, 15),
                cd_low = __builtin_shufflevector(*c, *d, 0, 8, 1, 9, 4, 12, 5, 13),
                cd_high = __builtin_shufflevector(*c, *d, 2, 10, 3, 11, 6, 14, 7, 15);
    *a = __builtin_shufflevector(ab_low, cd_low, 0, 1, 8, 9, 4, 5, 12, 13);
    *b = __builtin_shufflevector(ab_low, cd_low, 2, 3, 10, 11, 6, 7, 14, 15);
    *c = __builtin_shufflevector(ab_high, cd_high, 0, 1, 8, 9, 4, 5, 12, 13);
    *d = __builtin_shufflevector(ab_high, cd_high, 2, 3, 10, 11, 6, 7, 14, 15);
}

#endif
