/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/space/valleys.h"

#include <stdbool.h>
#include <stdlib.h>

typedef struct cell {
    float height;
    int at;
} cell;

typedef struct flood {
    int rows, cols;
    const float *height;
    int *root;      /* -1: still dry; of a root itself: the cell of the bottom, since bottoms never move up */
    float *passed;  /* of a bottom: height of the pass where it met a deeper valley; -1 while it has not */
} flood;

static int by_height(const void *a, const void *b)
{
    const cell *p = a, *q = b;
    if (p->height != q->height)
        return p->height < q->height ? -1 : 1;
    return (p->at > q->at) - (p->at < q->at);
}

static int bottom_of(flood *f, int at)
{
    while (f->root[at] != at) {
        f->root[at] = f->root[f->root[at]];
        at = f->root[at];
    }
    return at;
}

static bool deeper(const flood *f, int a, int b)
{
    return f->height[a] < f->height[b] || (f->height[a] == f->height[b] && a < b);
}

/* A cell gets wet: it joins the valleys of its wet neighbours, and those to each other. */
static void wet(flood *f, int at)
{
    f->root[at] = at;
    const int row = at / f->cols, col = at % f->cols;
    for (int i = 0; i < 9; i++) {
        const int r = row + i / 3 - 1, c = col + i % 3 - 1;
        if (r < 0 || r >= f->rows || c < 0 || c >= f->cols || f->root[r * f->cols + c] < 0)
            continue;
        const int a = bottom_of(f, at), b = bottom_of(f, r * f->cols + c);
        if (a == b)
            continue;
        const int low = deeper(f, a, b) ? a : b, high = low == a ? b : a;
        f->root[high] = low;
        f->passed[high] = f->height[at];
    }
}

bk_status bk_valleys(const float *height, int rows, int cols, double ridge, bk_arena *arena, int *bottom, int max, int *n,
                     bk_err *err)
{
    const int cells = rows * cols;
    *n = 0;
    cell *order = BK_NEW_RAW(arena, cells, cell, err);
    flood f = {rows, cols, height, BK_NEW_RAW(arena, cells, int, err), BK_NEW_RAW(arena, cells, float, err)};
    if (!order || !f.root || !f.passed)
        return err->status;
    for (int i = 0; i < cells; i++) {
        order[i] = (cell){height[i], i};
        f.root[i] = -1;
        f.passed[i] = -1;
    }
    qsort(order, (size_t)cells, sizeof *order, by_height);
    for (int i = 0; i < cells; i++)
        wet(&f, order[i].at);
    for (int i = 0; i < cells && *n < max; i++) {
        const int at = order[i].at;
        const bool deepest = f.root[at] == at;
        if (deepest || (f.passed[at] >= 0 && (double)f.passed[at] - (double)height[at] >= ridge))
            bottom[(*n)++] = at;
    }
    return BK_OK;
}
