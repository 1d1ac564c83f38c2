/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers in rising order. */
#ifndef BK_BASE_ORDER_H
#define BK_BASE_ORDER_H

#include <stddef.h>

void bk_sort_doubles(double *values, size_t n);
void bk_sort_floats(float *values, size_t n);
/** The k-th smallest (k from 0, below n) by Hoare's selection, O(n); reorders the values, none may be NaN. */
double bk_select(double *values, size_t n, size_t k);
/** Upper median; reorders the values. 0 when there are none. */
double bk_median(double *values, size_t n);

#endif
