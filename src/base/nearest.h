/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The known word nearest to a mistyped one. */
#ifndef BK_BASE_NEAREST_H
#define BK_BASE_NEAREST_H

#include <stddef.h>

/** Edit distance (insert, delete, replace) of two words; words longer than 63 bytes count as 63. */
size_t bk_edit_distance(const char *a, const char *b);

typedef struct bk_nearest {
    const char *word; /* best so far; NULL at the start */
    size_t distance;
} bk_nearest;

/** Offer a known word: kept when it is nearer than the best so far. */
void bk_nearest_offer(bk_nearest *best, const char *asked, const char *known);

#endif
