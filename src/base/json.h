/* SPDX-License-Identifier: GPL-3.0-or-later */
/* JSON values. The library behind it (jansson) is named in json.c only.
   Ownership: every bk_json * returned by a `new`, `read` or `copy` function is owned by the caller, until it is
   put into an object or an array, which then owns it. `get` and `at` return borrowed values.
   Building never fails half-way: an out-of-memory condition is remembered and reported by bk_json_write. */
#ifndef BK_BASE_JSON_H
#define BK_BASE_JSON_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/qty.h"
#include "base/status.h"

typedef struct bk_json bk_json;

#define BK_JSON_BYTES_MAX ((size_t)64 * 1024 * 1024)

bk_json *bk_json_object(void);
bk_json *bk_json_array(void);
bk_json *bk_json_new_text(const char *text);
bk_json *bk_json_new_real(double value); /* not finite: null */
bk_json *bk_json_new_integer(int64_t value);
bk_json *bk_json_new_bool(bool value);
bk_json *bk_json_new_null(void);
bk_json *bk_json_copy(const bk_json *value);
void bk_json_free(bk_json *value); /* NULL is fine */

/* Put child under key (replacing what was there) / at the end; takes ownership, also on failure. */
void bk_json_put(bk_json *object, const char *key, bk_json *child);
void bk_json_push(bk_json *array, bk_json *child);
void bk_json_drop(bk_json *object, const char *key);

void bk_json_put_text(bk_json *object, const char *key, const char *text); /* NULL: null */
void bk_json_put_real(bk_json *object, const char *key, double value);     /* not finite: null */
void bk_json_put_fixed(bk_json *object, const char *key, double value, int decimals);
void bk_json_put_integer(bk_json *object, const char *key, int64_t value);
void bk_json_put_bool(bk_json *object, const char *key, bool value);
void bk_json_put_null(bk_json *object, const char *key);
/** {"value","sd","origin"}, value and sd rounded to decimals; an absent quantity is null. */
void bk_json_put_qty(bk_json *object, const char *key, bk_qty q, int decimals);
/** Array of n numbers rounded to decimals; not finite: null. */
void bk_json_put_reals(bk_json *object, const char *key, const double *values, size_t n, int decimals);

bool bk_json_is_object(const bk_json *value);
bool bk_json_is_array(const bk_json *value);
bool bk_json_is_text(const bk_json *value);
bool bk_json_is_number(const bk_json *value);
bool bk_json_is_bool(const bk_json *value);
bool bk_json_is_null(const bk_json *value);
/** "an object", "a text", "a number", ... for error messages. */
const char *bk_json_kind_name(const bk_json *value);

/** NULL when value is not an object or has no such key. */
bk_json *bk_json_get(const bk_json *value, const char *key);
/** Nested get: keys separated by '.', a number is an index into an array. NULL when absent. */
bk_json *bk_json_path(const bk_json *value, const char *path);
size_t bk_json_count(const bk_json *value); /* members or items; 0 for others */
bk_json *bk_json_at(const bk_json *array, size_t index);
/** Visit members in the order of insertion: i in 0..count-1. */
const char *bk_json_key_at(const bk_json *object, size_t i, bk_json **value);
const char *bk_json_text(const bk_json *value); /* "" when not a text */
double bk_json_number(const bk_json *value);    /* NaN when not a number */
bool bk_json_true(const bk_json *value);

/** Parse n bytes. Duplicate keys, trailing text and bad UTF-8 are errors that name line and column. */
bk_status bk_json_read(const char *text, size_t n, bk_json **out, bk_err *err) BK_MUST_CHECK;
/** Read a whole file, at most BK_JSON_BYTES_MAX bytes. */
bk_status bk_json_read_file(const char *path, bk_json **out, bk_err *err) BK_MUST_CHECK;
/**
 * Text of a value: indented by two blanks, arrays of plain values on one line, numbers in their shortest form,
 * members in order of insertion; ends with a newline. *out is freed with bk_json_text_free.
 */
bk_status bk_json_write(const bk_json *value, char **out, size_t *n, bk_err *err) BK_MUST_CHECK;
void bk_json_text_free(char *text);
/** Write to path through a temporary file in the same folder that is renamed: never half-written. */
bk_status bk_json_write_file(const bk_json *value, const char *path, bk_err *err) BK_MUST_CHECK;

#endif
