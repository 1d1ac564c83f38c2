/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Field tables: every struct that crosses an edge is described once, by a table of rows. Reading from JSON,
   range checks, printing, typed changes ("--set PATH=VALUE") and the listing of `branchkeep fields` all come
   from that table. Adding an input is adding a member and a row.

   A table is an array of rows that ends with an empty one. The JSON key is the name of the C member.
   "Absent" is a state of every kind: NaN, BK_INTEGER_ABSENT, an absent quantity, BK_UNKNOWN, choice 0, "",
   an empty list, NULL. A JSON null reads as absent, and what is absent is not printed. */
#ifndef BK_BASE_FIELD_H
#define BK_BASE_FIELD_H

#include <limits.h>
#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/json.h"
#include "base/qty.h"
#include "base/status.h"

#define BK_INTEGER_ABSENT INT_MIN

typedef enum bk_field_kind {
    BK_FIELD_END = 0,
    BK_FIELD_REAL,    /* double */
    BK_FIELD_INTEGER, /* int */
    BK_FIELD_QTY,     /* bk_qty: a number, or {"value","sd","origin"} */
    BK_FIELD_TRI,     /* bk_tri: "yes", "no", "unknown", true, false */
    BK_FIELD_CHOICE,  /* int: index into choices; any letter case is accepted */
    BK_FIELD_TEXT,    /* char array */
    BK_FIELD_OBJECT,  /* a struct in place */
    BK_FIELD_MAYBE,   /* pointer to a struct in the arena, NULL when absent */
    BK_FIELD_LIST,    /* bk_list of structs in the arena */
    BK_FIELD_REALS,   /* bk_list of double in the arena */
    BK_FIELD_JSON     /* const bk_json *: borrowed from the document, passed through as it is */
} bk_field_kind;

typedef struct bk_list {
    void *items;
    size_t n;
} bk_list;
#define BK_ITEMS(list, type) ((type *)(list).items)

typedef struct bk_field {
    const char *name;
    bk_field_kind kind;
    size_t offset;
    size_t size;                 /* TEXT: room with the final zero; MAYBE, LIST: size of a struct */
    const char *unit;            /* NULL: none */
    double min, max;             /* inclusive, for REAL, INTEGER, QTY */
    bk_origin bare;              /* QTY: origin of a number that states none */
    const char *const *choices;  /* CHOICE, ends with NULL; entry 0: "unknown", or "" if it cannot be said */
    const struct bk_field *rows; /* OBJECT, MAYBE, LIST */
    const char *one_of;          /* at most one of the rows of a table that share this word may be given */
    const char *hint;            /* added to a range error: what may have been mixed up */
    const char *other_unit;      /* a unit that this one is mixed up with; NULL: none */
    double per_other;            /* this row's unit in one of the other: a range error then says what it would be */
    const char *set_by;          /* what changes it instead of --set; NULL: --set does */
    const char *meaning;         /* one line */
    const char *source;          /* of the vocabulary or the range; NULL: ours, wide enough for any patient */
} bk_field;

/* offsetof that refuses to compile when the member has another type than the row says */
#define BK_OFFSET(type, member, wanted)                                                                      \
    (offsetof(type, member) + 0 * sizeof((wanted *)1 == &((type *)0)->member))

#define BK_ROW_REAL(t, m, unit_, lo, hi, text)                                                               \
    .name = #m, .kind = BK_FIELD_REAL, .offset = BK_OFFSET(t, m, double), .unit = unit_, .min = lo,          \
    .max = hi, .meaning = text
#define BK_ROW_INTEGER(t, m, lo, hi, text)                                                                   \
    .name = #m, .kind = BK_FIELD_INTEGER, .offset = BK_OFFSET(t, m, int), .min = lo, .max = hi,              \
    .meaning = text
#define BK_ROW_QTY(t, m, unit_, lo, hi, bare_, text)                                                         \
    .name = #m, .kind = BK_FIELD_QTY, .offset = BK_OFFSET(t, m, bk_qty), .unit = unit_, .min = lo,           \
    .max = hi, .bare = bare_, .meaning = text
#define BK_ROW_TRI(t, m, text)                                                                               \
    .name = #m, .kind = BK_FIELD_TRI, .offset = BK_OFFSET(t, m, bk_tri), .meaning = text
#define BK_ROW_CHOICE(t, m, words, text)                                                                     \
    .name = #m, .kind = BK_FIELD_CHOICE, .offset = BK_OFFSET(t, m, int), .choices = words, .meaning = text
#define BK_ROW_TEXT(t, m, text)                                                                              \
    .name = #m, .kind = BK_FIELD_TEXT, .offset = offsetof(t, m), .size = sizeof(((t *)0)->m), .meaning = text
#define BK_ROW_OBJECT(t, m, type, table, text)                                                               \
    .name = #m, .kind = BK_FIELD_OBJECT, .offset = BK_OFFSET(t, m, type), .rows = table, .meaning = text
#define BK_ROW_MAYBE(t, m, type, table, text)                                                                \
    .name = #m, .kind = BK_FIELD_MAYBE, .offset = BK_OFFSET(t, m, type *), .size = sizeof(type),             \
    .rows = table, .meaning = text
#define BK_ROW_LIST(t, m, type, table, text)                                                                 \
    .name = #m, .kind = BK_FIELD_LIST, .offset = BK_OFFSET(t, m, bk_list), .size = sizeof(type),             \
    .rows = table, .meaning = text
#define BK_ROW_REALS(t, m, unit_, text)                                                                      \
    .name = #m, .kind = BK_FIELD_REALS, .offset = BK_OFFSET(t, m, bk_list), .unit = unit_, .meaning = text
#define BK_ROW_JSON(t, m, text)                                                                              \
    .name = #m, .kind = BK_FIELD_JSON, .offset = BK_OFFSET(t, m, const bk_json *), .meaning = text

/* What becomes of keys that no row names. */
typedef enum bk_unknown_keys {
    BK_KEYS_REFUSED,  /* an error that names the nearest known key */
    BK_KEYS_TOP_KEPT, /* passed over at this level unless near to a known key; refused below */
    BK_KEYS_KEPT      /* passed over at every level */
} bk_unknown_keys;

/**
 * Read a JSON object into a struct. Everything is set, to absent where the JSON says nothing.
 *
 * Owns    lists and MAYBE structs live in the arena; JSON rows borrow from object.
 * Errors  BK_E_DATA: unknown key, wrong kind, out of range, two of a one_of group; the message has the path.
 */
bk_status bk_fields_read(const bk_field *rows, const bk_json *object, bk_unknown_keys unknown,
                         bk_arena *arena, void *out, bk_err *err) BK_MUST_CHECK;

/** Set every member to absent. */
void bk_fields_clear(const bk_field *rows, void *out);

/** The struct as a new JSON object in the order of the table; reading it gives the same struct again. */
bk_json *bk_fields_print(const bk_field *rows, const void *in);

/**
 * Put a value given as text at a path ("anatomy.segments.side.reference_mm"); objects on the way are made,
 * a list is indexed by number, its length appends. Text is read as the row's kind: a plain word or number, or
 * JSON for quantities, objects and lists; "null" removes. Ranges are checked by reading the document again.
 *
 * Errors  BK_E_USAGE no such path, or one that --set does not change; BK_E_DATA the text is not of the kind.
 */
bk_status bk_fields_set(const bk_field *rows, bk_json *object, const char *path, const char *text,
                        bk_err *err) BK_MUST_CHECK;

/**
 * List what a row takes: one entry per leaf below it, appended to array, with topic (the row's name), name
 * (the path), kind, unit, min, max, choices, origin_of_a_bare_number, one_of, meaning, source, set_by.
 */
void bk_fields_list_row(const bk_field *row, bk_json *array);

/** Find a row by its key; NULL when there is none. */
const bk_field *bk_fields_find(const bk_field *rows, const char *name);

#endif
