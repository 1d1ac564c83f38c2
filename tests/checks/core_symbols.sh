#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# core is pure: what its library needs from outside is mathematics, memory in the caller's hands, and base. Files, the
# clock, the environment, the locale, printing and raw allocation would show up here as undefined symbols. __cpu_*: how
# code compiled for two widths of registers finds out which the processor has (src/core/image/wide.h).
#   core_symbols.sh [libbk_core.a]
. "$(dirname "$0")/common.sh"
command -v nm >/dev/null || skip "nm is not installed"
library=${1:-${BK_BUILD:?}/src/core/libbk_core.a}
nm -u "$library" | grep -q ' U __asan_' && skip "a sanitizer build brings symbols of its own"

allowed='
bk_[a-z0-9_]*
gsl_[A-Za-z0-9_]*
(sin|cos|tan|asin|acos|atan|atan2|sincos|sinh|cosh|tanh|exp|exp2|expm1|log|log2|log10|log1p|pow|sqrt|cbrt|hypot)f?
(erf|erfc|lgamma|tgamma|fmod|remainder|floor|ceil|round|trunc|rint|nearbyint|lround|llround|lrint|fabs|fmax|fmin|fma|ldexp|frexp|copysign|nextafter|modf|scalbn|fdim)f?
__(isnan|isinf|finite|isfinite|fpclassify|signbit)f?
mem(cpy|move|set|cmp|chr)
__mem(cpy|move|set)_chk
str(len|nlen|cmp|ncmp|chr|rchr|str|spn|cspn|pbrk)
qsort|bsearch
__stack_chk_fail
__cpu_(model|indicator_init)
__assert_fail
_GLOBAL_OFFSET_TABLE_
'
pattern=$(echo "$allowed" | grep -v '^$' | paste -sd '|' -)
nm -u "$library" | awk '$1 == "U" { print $2 }' | sort -u | grep -vxE "$pattern" |
    while read -r symbol; do
        echo "$symbol, needed by $(nm -A -u "$library" | awk -v s="$symbol" '$NF == s { split($1, a, ":"); printf "%s ", a[2] }')"
    done | verdict "only mathematics, mem*, str*, gsl_* and bk_* in libbk_core.a"
