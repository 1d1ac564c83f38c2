/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/order.h"

#include <stdlib.h>

static int double_order(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static int float_order(const void *a, const void *b)
{
    const float x = *(const float *)a, y = *(const float *)b;
    return (x > y) - (x < y);
}

void bk_sort_doubles(double *values, size_t n)
{
    qsort(values, n, sizeof *values, double_order);
}

void bk_sort_floats(float *values, size_t n)
{
    qsort(values, n, sizeof *values, float_order);
}

double bk_median(double *values, size_t n)
{
    bk_sort_doubles(values, n);
    return n ? values[n / 2] : 0;
}
