#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Functions that a safer one of ours replaces. A line, or the line before it, with "allow: REASON" is let through.
. "$(dirname "$0")/common.sh"

files '*.c' '*.cc' '*.h' | grep -E '^(src|phantom|tools|bench|fuzz)/' | xargs awk '
BEGIN {
    split("strcpy strncpy strcat strncat sprintf vsprintf gets", a); for (i in a) instead[a[i]] = "snprintf or bk_format"
    split("atoi atol atof strtol strtoll strtoul strtoull strtod strtof sscanf", b)
    for (i in b) instead[b[i]] = "bk_number_read or bk_integer_read: no locale, whole text"
    instead["strtok"] = "strspn and strcspn"
    split("rand srand random drand48", c); for (i in c) instead[c[i]] = "bk_random: seeded, the same everywhere"
    split("setlocale localeconv", d); for (i in d) instead[d[i]] = "nothing: the locale is never touched"
    split("system popen", e); for (i in e) instead[e[i]] = "nothing: no shell"
    split("alloca longjmp", f); for (i in f) instead[f[i]] = "bk_arena; a returned status"
}
/^ *(\/\/|\/?\*)/ { comment = /allow: / ; next }
{
    if (!/allow: / && !comment)
        for (name in instead)
            if (match($0, "(^|[^A-Za-z0-9_>.])" name " *\\("))
                print FILENAME ":" FNR ": " name "; use " instead[name]
    comment = 0
}' | verdict "none of the banned functions (or \"allow: reason\")"
