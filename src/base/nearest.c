/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/nearest.h"

#include <string.h>

#define WORD_MAX ((size_t)63)

static size_t smaller(size_t a, size_t b)
{
    return a < b ? a : b;
}

size_t bk_edit_distance(const char *a, const char *b)
{
    const size_t na = smaller(strlen(a), WORD_MAX), nb = smaller(strlen(b), WORD_MAX);
    size_t row[WORD_MAX + 1];
    for (size_t j = 0; j <= nb; j++)
        row[j] = j;
    for (size_t i = 1; i <= na; i++) {
        size_t diagonal = row[0];
        row[0] = i;
        for (size_t j = 1; j <= nb; j++) {
            const size_t replaced = diagonal + (a[i - 1] != b[j - 1]);
            diagonal = row[j];
            row[j] = smaller(replaced, smaller(row[j], row[j - 1]) + 1);
        }
    }
    return row[nb];
}

void bk_nearest_offer(bk_nearest *best, const char *asked, const char *known)
{
    const size_t distance = bk_edit_distance(asked, known);
    if (!best->word || distance < best->distance) {
        best->word = known;
        best->distance = distance;
    }
}
