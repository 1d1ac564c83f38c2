/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Published numbers. They are written in the tables of evidence/ (columns: evidence/README.md), checked and
   turned into C by tools/gen_evidence.c when the program is built, and never typed into code. Code names a
   row by BK_EVIDENCE("id"): tests/checks/evidence_ids.sh looks every such id up in the tables. */
#ifndef BK_BASE_EVIDENCE_H
#define BK_BASE_EVIDENCE_H

#include <stdbool.h>
#include <stddef.h>

#include "base/status.h"

#define BK_EVIDENCE(id) id

typedef enum bk_standing {
    BK_STANDING_NONE = 0,
    BK_SEEN,           /* read in the source named, or derived from a number read there */
    BK_MEMORY,         /* recalled, or read in somebody else's summary: shown as not verified */
    BK_COMMON_PRACTICE /* no source */
} bk_standing;

typedef struct bk_evidence {
    const char *id, *topic, *name;
    double value, sd, low, high; /* NaN where the row has none */
    const char *interval;        /* what low and high are: "ci95", "range", ...; "" when there are none */
    const char *unit;            /* "1" for a ratio, "none" for a statement without a number */
    const char *population, *end_point, *text, *source, *doi;
    bk_standing standing;
    const char *edition, *checked;
    bool own; /* from a user's own table */
} bk_evidence;

typedef struct bk_evidence_set {
    const bk_evidence *rows;
    size_t n;
} bk_evidence_set;

/** The rows compiled into the program, in the order of the files and lines. */
const bk_evidence_set *bk_evidence_compiled(void);
/** The rows in use: those compiled in, or those of bk_evidence_use. */
const bk_evidence_set *bk_evidence_builtin(void);
/** Use these from now on; they must hold every id compiled in and outlive all use. Before any thread is started. */
void bk_evidence_use(const bk_evidence_set *set);
/** NULL when there is no such row. */
const bk_evidence *bk_evidence_find(const bk_evidence_set *set, const char *id);
/** The value of a row that code relies on. A missing row or a row without a value is a fault of ours: aborts.
 */
double bk_evidence_value(const bk_evidence_set *set, const char *id);
double bk_evidence_sd(const bk_evidence_set *set, const char *id);
double bk_evidence_low(const bk_evidence_set *set, const char *id);
double bk_evidence_high(const bk_evidence_set *set, const char *id);

/** "seen", "memory" or "common practice". */
const char *bk_standing_name(bk_standing standing);

/* ---- reading the tables: at build time, and at run time for a user's own rows ---- */

#define BK_EVIDENCE_COLUMNS 17

typedef struct bk_evidence_header {
    int column[BK_EVIDENCE_COLUMNS]; /* of each known cell: index in the file, -1 when the file has none */
    size_t n;                        /* columns in the file */
} bk_evidence_header;

/** Columns may stand in any order. Errors: BK_E_DATA unknown, repeated or missing required column. */
bk_status bk_evidence_read_header(const char *const *cells, size_t n, bk_evidence_header *out,
                                  bk_err *err) BK_MUST_CHECK;
/**
 * One row; texts are borrowed from cells. Errors: BK_E_DATA wrong number of cells, an id that is not
 * lower-case letters, digits and underscores, a required cell empty, a number that is none, value outside
 * low..high, low without high or interval, a standing or date that is none, a row standing "seen" without the
 * day it was checked.
 */
bk_status bk_evidence_read_row(const bk_evidence_header *header, const char *const *cells, size_t n,
                               bk_evidence *out, bk_err *err) BK_MUST_CHECK;

#endif
