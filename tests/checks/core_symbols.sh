#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# core is numbers in, numbers out: what it may call is listed here.
command -v nm >/dev/null || exit 77
allowed='^(bk_.*|gsl_.*|__stack_chk_fail|__assert_fail|_GLOBAL_OFFSET_TABLE_|abort|mem(cpy|set|move|cmp)|str(len|cmp|ncmp|chr)|qsort|abs|l?l?(round|rint)f?|(sin|cos|tan|asin|acos|atan|atan2|sincos|exp|expm1|log|log1p|pow|sqrt|cbrt|hypot|fabs|floor|ceil|fmin|fmax|fmod|fma|erf|erfc|round|trunc|ldexp|frexp|nextafter)f?)$'
found=$(nm -u "$BK_BUILD/src/core/libbk_core.a" | sed -n 's/^ *U //p' | sort -u | grep -vE "$allowed" | grep -vE '^(__asan|__ubsan|__tsan|__sanitizer|__interceptor)')
[ -z "$found" ] || { echo "core calls: $found"; exit 1; }
