/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/qty.h"

#include <string.h>

static const char *const origin_names[] = {"absent", "measured", "projected", "visual",
                                           "entered", "derived",  "assumed"};
#define ORIGIN_N (sizeof origin_names / sizeof origin_names[0])

const char *bk_origin_name(bk_origin origin)
{
    return (size_t)origin < ORIGIN_N ? origin_names[origin] : "absent";
}

bk_origin bk_origin_from(const char *name)
{
    for (size_t i = 1; i < ORIGIN_N; i++)
        if (strcmp(name, origin_names[i]) == 0)
            return (bk_origin)i;
    return BK_ORIGIN_ABSENT;
}

const char *bk_tri_name(bk_tri tri)
{
    return tri == BK_YES ? "yes" : tri == BK_NO ? "no" : "unknown";
}
