/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Comma-separated text as in RFC 4180: cells in double quotes may hold commas, line ends and doubled quotes;
   lines end in LF or CRLF; a byte-order mark at the start is passed over. Decoded in place, nothing
   allocated. */
#ifndef BK_BASE_CSV_H
#define BK_BASE_CSV_H

#include <stdbool.h>
#include <stddef.h>

#include "base/status.h"

typedef struct bk_csv {
    char *at, *end;
    int line; /* of the record read last, from 1 */
    int next_line;
} bk_csv;

/** Start on n bytes of text and one more writable byte behind them; all are overwritten by reading. */
void bk_csv_start(bk_csv *csv, char *text, size_t n);

/**
 * Read the next record that is not an empty line. cells point into the text.
 * Returns BK_OK with *n > 0, or with *n = 0 at the end.
 * Errors: BK_E_DATA more than cells_max cells, a quote inside a plain cell, text behind a closing quote, an
 * open quote at the end, a zero byte; the message begins with "line N".
 */
bk_status bk_csv_next(bk_csv *csv, const char **cells, size_t cells_max, size_t *n,
                      bk_err *err) BK_MUST_CHECK;

/* ---- writing ---- */

typedef struct bk_csv_line {
    char *text; /* ends with a zero */
    size_t n, room;
    int cells;
    bool cut; /* it did not fit; check before use */
} bk_csv_line;

/** Start an empty line in room (at least 1) bytes. */
void bk_csv_line_start(bk_csv_line *line, char *text, size_t room);
/** Add a cell, in quotes when it holds a comma, a quote or a line end. */
void bk_csv_line_add(bk_csv_line *line, const char *cell);
/** End the line with LF, as our own tables do. */
void bk_csv_line_end(bk_csv_line *line);

#endif
