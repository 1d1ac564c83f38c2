/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading JSON through a field table. */
#include "base/field.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

#include "base/nearest.h"
#include "base/number.h"

/* Where we are, as a chain from the innermost key outwards: written out only when something is wrong. */
typedef struct place {
    const struct place *up;
    const char *key; /* NULL: an item of a list */
    size_t index;
} place;

typedef struct reader {
    bk_arena *arena;
    bk_err *err;
} reader;

#define PATH_TEXT 120

static size_t write_place(const place *at, char out[PATH_TEXT])
{
    if (!at)
        return 0;
    size_t n = write_place(at->up, out);
    if (n > 0 && n < PATH_TEXT - 1)
        out[n++] = '.';
    const int added = at->key ? snprintf(out + n, PATH_TEXT - n, "%s", at->key)
                              : snprintf(out + n, PATH_TEXT - n, "%zu", at->index);
    n += added > 0 ? (size_t)added : 0;
    return n < PATH_TEXT ? n : PATH_TEXT - 1;
}

static const char *path_of(const place *at, char out[PATH_TEXT])
{
    if (write_place(at, out) == 0)
        snprintf(out, PATH_TEXT, "document");
    return out;
}

const bk_field *bk_fields_find(const bk_field *rows, const char *name)
{
    for (; rows->kind != BK_FIELD_END; rows++)
        if (strcmp(rows->name, name) == 0)
            return rows;
    return NULL;
}

static bk_status wrong_kind(reader *r, const place *at, const bk_json *found, const char *wanted)
{
    char path[PATH_TEXT];
    return bk_fail(r->err, BK_E_DATA, "%s: %s was found, %s was expected", path_of(at, path),
                   bk_json_kind_name(found), wanted);
}

/* "; 85 umol/L is 0.96 mg/dL", when the value would make sense in the other unit; else "". */
static const char *in_other_unit(const bk_field *row, double value, char out[120])
{
    char found[BK_NUMBER_TEXT], meant[BK_NUMBER_TEXT];
    const double converted = value * row->per_other;
    out[0] = '\0';
    if (row->other_unit && converted >= row->min && converted <= row->max)
        snprintf(out, 120, "; %s %s is %s %s", bk_number_print(found, value), row->other_unit,
                 bk_number_fixed(meant, converted, converted < 10 ? 2 : 0), row->unit);
    return out;
}

static bk_status check_range(reader *r, const place *at, const bk_field *row, double value)
{
    if (value >= row->min && value <= row->max)
        return BK_OK;
    char path[PATH_TEXT], found[BK_NUMBER_TEXT], low[BK_NUMBER_TEXT], high[BK_NUMBER_TEXT], other[120];
    return bk_fail(r->err, BK_E_DATA, "%s: %s was found, %s to %s%s%s was expected%s%s%s", path_of(at, path),
                   bk_number_print(found, value), bk_number_print(low, row->min),
                   bk_number_print(high, row->max), row->unit ? " " : "", row->unit ? row->unit : "",
                   in_other_unit(row, value, other), row->hint ? "; " : "", row->hint ? row->hint : "");
}

static bk_status read_real(reader *r, const place *at, const bk_field *row, const bk_json *value, double *out)
{
    if (!bk_json_is_number(value))
        return wrong_kind(r, at, value, "a number");
    const double number = bk_json_number(value);
    const bk_status status = check_range(r, at, row, number);
    if (status == BK_OK)
        *out = number;
    return status;
}

static bk_status read_integer(reader *r, const place *at, const bk_field *row, const bk_json *value, int *out)
{
    const double number = bk_json_number(value);
    char path[PATH_TEXT], found[BK_NUMBER_TEXT];
    if (!bk_json_is_number(value))
        return wrong_kind(r, at, value, "a whole number");
    if (check_range(r, at, row, number) != BK_OK)
        return BK_E_DATA;
    if (number != (double)(int)number) // the range is inside int
        return bk_fail(r->err, BK_E_DATA, "%s: %s was found, a whole number was expected", path_of(at, path),
                       bk_number_print(found, number));
    *out = (int)number;
    return BK_OK;
}

static bk_status read_qty_object(reader *r, const place *at, const bk_field *row, const bk_json *value,
                                 bk_qty *out)
{
    static const char *const known[] = {"value", "sd", "origin"};
    char path[PATH_TEXT];
    for (size_t i = 0; i < bk_json_count(value); i++) {
        bk_json *member;
        const char *key = bk_json_key_at(value, i, &member);
        bk_nearest best = {0};
        for (size_t k = 0; k < 3; k++)
            bk_nearest_offer(&best, key, known[k]);
        if (best.distance > 0)
            return bk_fail(r->err, BK_E_DATA, "%s.%s is unknown, the nearest known key is %s",
                           path_of(at, path), key, best.word);
    }
    bk_qty q = {0, (double)NAN, row->bare};
    const place value_at = {at, "value", 0}, sd_at = {at, "sd", 0};
    if (read_real(r, &value_at, row, bk_json_get(value, "value"), &q.value) != BK_OK)
        return BK_E_DATA;
    const bk_json *sd = bk_json_get(value, "sd");
    if (sd && !bk_json_is_null(sd)) {
        const bk_field spread = {.unit = row->unit, .min = 0, .max = row->max - row->min};
        if (read_real(r, &sd_at, &spread, sd, &q.sd) != BK_OK)
            return BK_E_DATA;
    }
    const bk_json *origin = bk_json_get(value, "origin");
    if (origin)
        q.origin = bk_origin_from(bk_json_text(origin));
    if (q.origin == BK_ORIGIN_ABSENT)
        return bk_fail(
            r->err, BK_E_DATA,
            "%s.origin: \"%s\" was found, measured, projected, visual, entered, derived or assumed "
            "was expected",
            path_of(at, path), bk_json_text(origin));
    *out = q;
    return BK_OK;
}

static bk_status read_qty(reader *r, const place *at, const bk_field *row, const bk_json *value, bk_qty *out)
{
    if (bk_json_is_object(value))
        return read_qty_object(r, at, row, value, out);
    if (!bk_json_is_number(value))
        return wrong_kind(r, at, value, "a number or {\"value\", \"sd\", \"origin\"}");
    const double number = bk_json_number(value);
    const bk_status status = check_range(r, at, row, number);
    if (status == BK_OK)
        *out = bk_qty_of(number, (double)NAN, row->bare);
    return status;
}

static bool same_word(const char *a, const char *b)
{
    for (; *a && *b; a++, b++)
        if (tolower((unsigned char)*a) != tolower((unsigned char)*b))
            return false;
    return *a == *b;
}

static bk_status read_tri(reader *r, const place *at, const bk_json *value, bk_tri *out)
{
    const char *text = bk_json_text(value);
    char path[PATH_TEXT];
    if (bk_json_is_bool(value))
        *out = bk_json_true(value) ? BK_YES : BK_NO;
    else if (same_word(text, "yes"))
        *out = BK_YES;
    else if (same_word(text, "no"))
        *out = BK_NO;
    else if (!same_word(text, "unknown"))
        return bk_json_is_text(value)
                   ? bk_fail(r->err, BK_E_DATA, "%s: \"%s\" was found, yes, no or unknown was expected",
                             path_of(at, path), text)
                   : wrong_kind(r, at, value, "yes, no or unknown");
    return BK_OK;
}

static bk_status read_choice(reader *r, const place *at, const bk_field *row, const bk_json *value, int *out)
{
    if (!bk_json_is_text(value))
        return wrong_kind(r, at, value, "a word");
    const char *text = bk_json_text(value);
    bk_nearest best = {0};
    for (int i = 0; row->choices[i]; i++) {
        if (!row->choices[i][0])
            continue;
        if (same_word(row->choices[i], text)) {
            *out = i;
            return BK_OK;
        }
        bk_nearest_offer(&best, text, row->choices[i]);
    }
    char path[PATH_TEXT];
    return bk_fail(r->err, BK_E_DATA, "%s: \"%s\" is unknown, the nearest known word is %s",
                   path_of(at, path), text, best.word);
}

static bk_status read_text(reader *r, const place *at, const bk_field *row, const bk_json *value, char *out)
{
    char path[PATH_TEXT];
    if (!bk_json_is_text(value))
        return wrong_kind(r, at, value, "a text");
    const size_t n = strlen(bk_json_text(value));
    if (n >= row->size)
        return bk_fail(r->err, BK_E_DATA, "%s: a text of %zu bytes was found, at most %zu were expected",
                       path_of(at, path), n, row->size - 1);
    memcpy(out, bk_json_text(value), n + 1);
    return BK_OK;
}

static bk_status read_reals(reader *r, const place *at, const bk_json *value, bk_list *out)
{
    if (!bk_json_is_array(value))
        return wrong_kind(r, at, value, "an array of numbers");
    const size_t n = bk_json_count(value);
    double *items = BK_NEW(r->arena, n, double, r->err);
    if (!items)
        return r->err->status;
    for (size_t i = 0; i < n; i++) // null, in a curve, is a point that could not be read: NaN
        items[i] = bk_json_number(bk_json_at(value, i));
    *out = (bk_list){items, n};
    return BK_OK;
}

static bk_status read_object(reader *r, const place *at, const bk_field *rows, const bk_json *object,
                             bk_unknown_keys unknown, void *out);

static bk_status read_list(reader *r, const place *at, const bk_field *row, const bk_json *value,
                           bk_unknown_keys unknown, bk_list *out)
{
    if (!bk_json_is_array(value))
        return wrong_kind(r, at, value, "an array");
    const size_t n = bk_json_count(value);
    char *items = bk_arena_alloc(r->arena, n, row->size, r->err);
    if (!items)
        return r->err->status;
    for (size_t i = 0; i < n; i++) {
        const place item = {at, NULL, i};
        const bk_status status =
            read_object(r, &item, row->rows, bk_json_at(value, i), unknown, items + i * row->size);
        if (status != BK_OK)
            return status;
    }
    *out = (bk_list){items, n};
    return BK_OK;
}

static bk_status read_maybe(reader *r, const place *at, const bk_field *row, const bk_json *value,
                            bk_unknown_keys unknown, void **out)
{
    *out = bk_arena_alloc(r->arena, 1, row->size, r->err);
    return *out ? read_object(r, at, row->rows, value, unknown, *out) : r->err->status;
}

static bk_status read_row(reader *r, const place *at, const bk_field *row, const bk_json *value,
                          bk_unknown_keys unknown, char *member)
{
    switch (row->kind) {
    case BK_FIELD_REAL:
        return read_real(r, at, row, value, (double *)(void *)member);
    case BK_FIELD_INTEGER:
        return read_integer(r, at, row, value, (int *)(void *)member);
    case BK_FIELD_QTY:
        return read_qty(r, at, row, value, (bk_qty *)(void *)member);
    case BK_FIELD_TRI:
        return read_tri(r, at, value, (bk_tri *)(void *)member);
    case BK_FIELD_CHOICE:
        return read_choice(r, at, row, value, (int *)(void *)member);
    case BK_FIELD_TEXT:
        return read_text(r, at, row, value, member);
    case BK_FIELD_OBJECT:
        return read_object(r, at, row->rows, value, unknown, member);
    case BK_FIELD_MAYBE:
        return read_maybe(r, at, row, value, unknown, (void **)(void *)member);
    case BK_FIELD_LIST:
        return read_list(r, at, row, value, unknown, (bk_list *)(void *)member);
    case BK_FIELD_REALS:
        return read_reals(r, at, value, (bk_list *)(void *)member);
    case BK_FIELD_JSON:
        *(const bk_json **)(void *)member = value;
        return BK_OK;
    case BK_FIELD_END:
        break;
    }
    return bk_fail(r->err, BK_E_INTERNAL, "field table: row \"%s\" has no kind", row->name);
}

#define NEAR_MISS ((size_t)2)
#define NEAR_MISS_LENGTH ((size_t)5) /* two edits turn any shorter word into another one */

static bk_status unknown_key(reader *r, const place *at, const bk_field *rows, const char *key,
                             bk_unknown_keys unknown)
{
    bk_nearest best = {0};
    for (; rows->kind != BK_FIELD_END; rows++)
        bk_nearest_offer(&best, key, rows->name);
    if (unknown == BK_KEYS_TOP_KEPT && (best.distance > NEAR_MISS || strlen(key) < NEAR_MISS_LENGTH))
        return BK_OK;
    const place here = {at, key, 0};
    char path[PATH_TEXT];
    return bk_fail(r->err, BK_E_DATA, "%s is unknown, the nearest known key is %s", path_of(&here, path),
                   best.word);
}

/* Rows that exclude one another, such as the same quantity in two units. */
static bk_status check_one_of(reader *r, const place *at, const bk_field *rows, const bk_json *object)
{
    char path[PATH_TEXT];
    for (const bk_field *a = rows; a->kind != BK_FIELD_END; a++) {
        if (!a->one_of || !bk_json_get(object, a->name) || bk_json_is_null(bk_json_get(object, a->name)))
            continue;
        for (const bk_field *b = a + 1; b->kind != BK_FIELD_END; b++) {
            const bk_json *other = bk_json_get(object, b->name);
            if (b->one_of && strcmp(a->one_of, b->one_of) == 0 && other && !bk_json_is_null(other))
                return bk_fail(r->err, BK_E_DATA, "%s: both %s and %s were found, one of them was expected",
                               path_of(at, path), a->name, b->name);
        }
    }
    return BK_OK;
}

static bk_status read_object(reader *r, const place *at, const bk_field *rows, const bk_json *object,
                             bk_unknown_keys unknown, void *out)
{
    bk_fields_clear(rows, out);
    if (!bk_json_is_object(object))
        return wrong_kind(r, at, object, "an object");
    const bk_unknown_keys below = unknown == BK_KEYS_TOP_KEPT ? BK_KEYS_REFUSED : unknown;
    for (size_t i = 0; i < bk_json_count(object); i++) {
        bk_json *value;
        const char *key = bk_json_key_at(object, i, &value);
        const bk_field *row = bk_fields_find(rows, key);
        const place here = {at, key, 0};
        bk_status status = BK_OK;
        if (!row && unknown != BK_KEYS_KEPT)
            status = unknown_key(r, at, rows, key, unknown);
        else if (row && !bk_json_is_null(value))
            status = read_row(r, &here, row, value, below, (char *)out + row->offset);
        if (status != BK_OK)
            return status;
    }
    return check_one_of(r, at, rows, object);
}

bk_status bk_fields_read(const bk_field *rows, const bk_json *object, bk_unknown_keys unknown,
                         bk_arena *arena, void *out, bk_err *err)
{
    bk_err own = {0};
    reader r = {arena, err ? err : &own};
    const bk_status status = read_object(&r, NULL, rows, object, unknown, out);
    if (status != BK_OK)
        bk_fields_clear(rows, out);
    return status;
}

void bk_fields_clear(const bk_field *rows, void *out)
{
    for (; rows->kind != BK_FIELD_END; rows++) {
        void *member = (char *)out + rows->offset;
        switch (rows->kind) {
        case BK_FIELD_REAL:
            *(double *)member = (double)NAN;
            break;
        case BK_FIELD_INTEGER:
            *(int *)member = BK_INTEGER_ABSENT;
            break;
        case BK_FIELD_QTY:
            *(bk_qty *)member = bk_qty_absent();
            break;
        case BK_FIELD_TRI:
            *(bk_tri *)member = BK_UNKNOWN;
            break;
        case BK_FIELD_CHOICE:
            *(int *)member = 0;
            break;
        case BK_FIELD_TEXT:
            memset(member, 0, rows->size);
            break;
        case BK_FIELD_OBJECT:
            bk_fields_clear(rows->rows, member);
            break;
        case BK_FIELD_MAYBE:
            *(void **)member = NULL;
            break;
        case BK_FIELD_LIST:
        case BK_FIELD_REALS:
            *(bk_list *)member = (bk_list){NULL, 0};
            break;
        case BK_FIELD_JSON:
            *(const bk_json **)member = NULL;
            break;
        case BK_FIELD_END:
            break;
        }
    }
}
