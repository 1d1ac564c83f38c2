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

double bk_select(double *values, size_t n, size_t k)
{
    size_t low = 0, high = n - 1;
    while (low < high) {
        const double pivot = values[k];
        size_t i = low, j = high;
        do {
            while (values[i] < pivot)
                i++;
            while (pivot < values[j])
                j--;
            if (i <= j) {
                const double t = values[i];
                values[i++] = values[j];
                values[j] = t;
                if (j == 0)
                    break;
                j--;
            }
        } while (i <= j);
        if (j < k)
            low = i;
        if (k < i)
            high = j;
    }
    return values[k];
}

double bk_median(double *values, size_t n)
{
    return n ? bk_select(values, n, n / 2) : 0;
}
