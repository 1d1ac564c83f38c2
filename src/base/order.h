/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers in rising order. */
#ifndef BK_BASE_ORDER_H
#define BK_BASE_ORDER_H

#include <stddef.h>

void bk_sort_doubles(double *values, size_t n);
void bk_sort_floats(float *values, size_t n);
/** Upper median; sorts the values. 0 when there are none. */
double bk_median(double *values, size_t n);

#endif
