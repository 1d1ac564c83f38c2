/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What every unit test includes: cmocka with the headers it wants first, and a real comparison of doubles
   (cmocka 1.1's own goes through float). */
#ifndef BK_TESTS_CHECK_H
#define BK_TESTS_CHECK_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <cmocka.h>

#define assert_near(got, want, tolerance) bk_assert_near((got), (want), (tolerance), #got, __FILE__, __LINE__)

static inline void bk_assert_near(double got, double want, double tolerance, const char *what, const char *file,
                                  int line)
{
    if (fabs(got - want) <= tolerance)
        return;
    print_error("%s is %.12g, %.12g was expected to within %.3g\n", what, got, want, tolerance);
    _fail(file, line);
}

#endif
