/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers as text, independent of the locale: the point is always '.'. */
#ifndef BK_BASE_NUMBER_H
#define BK_BASE_NUMBER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define BK_NUMBER_TEXT 32

/**
 * Read a decimal number "[+-]digits[.digits][e[+-]digits]", surrounded by at most blanks, from the first n
 * bytes of text. Hexadecimal, "inf" and "nan" are refused. Returns false, with *out 0, when the text is
 * anything else or the value is not finite. Correctly rounded (strtod in the "C" locale).
 */
bool bk_number_read(const char *text, size_t n, double *out);

/** Same for a whole number within int64; "3.0" is not one. */
bool bk_integer_read(const char *text, size_t n, int64_t *out);

/** Shortest text that reads back to the same double. value must be finite. Returns out. */
char *bk_number_print(char out[BK_NUMBER_TEXT], double value);

/** Fixed number of decimals (0..9), never "-0.0". value must be finite and below 1e15. Returns out. */
char *bk_number_fixed(char out[BK_NUMBER_TEXT], double value, int decimals);

/** Round to a number of decimals, for printing results that are not meaningful beyond. */
double bk_round_to(double value, int decimals);

#ifdef __cplusplus
}
#endif
#endif
