/* SPDX-License-Identifier: GPL-3.0-or-later */
/* PATH=VALUE from the command line into a JSON document, typed by its field table. */
#include "base/field.h"

#include <string.h>

#include "base/nearest.h"
#include "base/number.h"

#define KEY_TEXT 64

typedef struct setter {
    const char *path, *text;
    bk_err *err;
} setter;

/* Cut the next key off *at; false when it is empty or longer than any of ours. */
static bool next_key(const char **at, char key[KEY_TEXT])
{
    const size_t n = strcspn(*at, ".");
    if (n == 0 || n >= KEY_TEXT)
        return false;
    memcpy(key, *at, n);
    key[n] = '\0';
    *at += n + ((*at)[n] == '.');
    return true;
}

static bk_status no_such_path(const setter *s, const bk_field *rows, const char *key)
{
    bk_nearest best = {0};
    for (; rows->kind != BK_FIELD_END; rows++)
        bk_nearest_offer(&best, key, rows->name);
    return bk_fail(s->err, BK_E_USAGE, "%s: \"%s\" is unknown, the nearest known key is %s", s->path, key,
                   best.word);
}

static bk_status read_number(const setter *s, bk_json **out)
{
    double number;
    if (!bk_number_read(s->text, strlen(s->text), &number))
        return bk_fail(s->err, BK_E_DATA, "%s: \"%s\" was found, a number was expected", s->path, s->text);
    *out = bk_json_new_real(number);
    return BK_OK;
}

static bk_status read_json(const setter *s, bk_json **out)
{
    const bk_status status = bk_json_read(s->text, strlen(s->text), out, s->err);
    return status == BK_OK ? BK_OK : bk_fail_in(s->err, s->path);
}

/* The text as a JSON value of the row's kind; words are checked when the document is read again. */
static bk_status value_of(const setter *s, const bk_field *row, bk_json **out)
{
    switch (row->kind) {
    case BK_FIELD_REAL:
    case BK_FIELD_INTEGER:
        return read_number(s, out);
    case BK_FIELD_QTY:
        return s->text[0] == '{' ? read_json(s, out) : read_number(s, out);
    case BK_FIELD_TRI:
        *out = strcmp(s->text, "true") == 0    ? bk_json_new_bool(true)
               : strcmp(s->text, "false") == 0 ? bk_json_new_bool(false)
                                               : bk_json_new_text(s->text);
        return BK_OK;
    case BK_FIELD_CHOICE:
    case BK_FIELD_TEXT:
        *out = bk_json_new_text(s->text);
        return BK_OK;
    case BK_FIELD_OBJECT:
    case BK_FIELD_MAYBE:
    case BK_FIELD_LIST:
    case BK_FIELD_REALS:
    case BK_FIELD_JSON:
    case BK_FIELD_END:
        break;
    }
    return read_json(s, out);
}

static bk_status put_value(const setter *s, const bk_field *row, bk_json *object)
{
    if (strcmp(s->text, "null") == 0) {
        bk_json_drop(object, row->name);
        return BK_OK;
    }
    bk_json *value = NULL;
    const bk_status status = value_of(s, row, &value);
    if (status == BK_OK)
        bk_json_put(object, row->name, value);
    return status;
}

/* The object under key, made when there is none. */
static bk_json *object_under(bk_json *object, const char *key)
{
    if (!bk_json_is_object(bk_json_get(object, key)))
        bk_json_put(object, key, bk_json_object());
    return bk_json_get(object, key);
}

/* The item a path's index names; an index one behind the last appends. */
static bk_status item_under(const setter *s, const bk_field *row, bk_json *object, const char **at,
                            bk_json **item)
{
    if (!bk_json_is_array(bk_json_get(object, row->name)))
        bk_json_put(object, row->name, bk_json_array());
    bk_json *array = bk_json_get(object, row->name);
    const size_t n = bk_json_count(array);
    char key[KEY_TEXT];
    int64_t index;
    if (!next_key(at, key) || !bk_integer_read(key, strlen(key), &index) || index < 0 || (size_t)index > n)
        return bk_fail(s->err, BK_E_USAGE, "%s: %s is a list of %zu, an index from 0 to %zu was expected",
                       s->path, row->name, n, n);
    if ((size_t)index == n)
        bk_json_push(array, bk_json_object());
    *item = bk_json_at(array, (size_t)index);
    return BK_OK;
}

bk_status bk_fields_set(const bk_field *rows, bk_json *object, const char *path, const char *text,
                        bk_err *err)
{
    const setter s = {path, text, err};
    const char *at = path;
    for (;;) {
        char key[KEY_TEXT];
        if (!next_key(&at, key))
            return bk_fail(err, BK_E_USAGE, "\"%s\" was found, a path such as patient.age_y was expected",
                           path);
        const bk_field *row = bk_fields_find(rows, key);
        if (!row)
            return no_such_path(&s, rows, key);
        if (row->set_by)
            return bk_fail(err, BK_E_USAGE, "%s cannot be set, it is changed by %s", path, row->set_by);
        if (!*at)
            return put_value(&s, row, object);
        if (!row->rows)
            return bk_fail(err, BK_E_USAGE, "%s goes on behind %s, which has no parts", path, key);
        if (row->kind == BK_FIELD_LIST) {
            const bk_status status = item_under(&s, row, object, &at, &object);
            if (status != BK_OK)
                return status;
            if (!*at)
                return bk_fail(err, BK_E_USAGE, "%s ends with an index, a key of %s was expected", path,
                               row->name);
        } else {
            object = object_under(object, row->name);
        }
        rows = row->rows;
    }
}
