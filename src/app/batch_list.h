/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The list of a batch, checked. */
#ifndef BK_APP_BATCH_LIST_H
#define BK_APP_BATCH_LIST_H

#include <stdint.h>

#include "base/arena.h"

typedef struct bk_batch_row {
    const char *file; /* as it stands in the list */
    const char *path; /* from here */
    int32_t frame;
    double click_px[3][2]; /* proximal, distal, side */
    double mm_per_px;      /* NaN: not given */
} bk_batch_row;

typedef struct bk_batch_list {
    bk_batch_row *rows; /* in the arena */
    int n;
} bk_batch_list;

/**
 * Read a list: one line of column names in any order, then at least one row.
 * Errors: BK_E_IO; BK_E_DATA with file and line: unknown, repeated or missing column, wrong number of cells, a cell
 * that is not what its column holds, no rows.
 */
bk_status bk_batch_list_read(const char *path, bk_arena *arena, bk_batch_list *out, bk_err *err) BK_MUST_CHECK;

#endif
