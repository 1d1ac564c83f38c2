/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The only file that knows jansson. bk_json is json_t under another name, so that no header of ours needs
   the library's. The printer is our own: shortest numbers, and one line for an array of plain values. */
#include "base/json.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/file.h"
#include "base/number.h"

#define DEPTH_MAX 64

static json_t *inner(const bk_json *value)
{
    return (json_t *)(uintptr_t)value;
}
static bk_json *outer(json_t *value)
{
    return (bk_json *)value;
}

bk_json *bk_json_object(void)
{
    return outer(json_object());
}
bk_json *bk_json_array(void)
{
    return outer(json_array());
}
bk_json *bk_json_new_text(const char *text)
{
    if (!text)
        return outer(json_null());
    json_t *value = json_string(text);
    return outer(value ? value : json_string("?")); /* not UTF-8: shown as unreadable, never dropped silently */
}
bk_json *bk_json_new_real(double value)
{
    return outer(isfinite(value) ? json_real(value) : json_null());
}
bk_json *bk_json_new_integer(int64_t value)
{
    return outer(json_integer(value));
}
bk_json *bk_json_new_bool(bool value)
{
    return outer(json_boolean(value));
}
bk_json *bk_json_new_null(void)
{
    return outer(json_null());
}
bk_json *bk_json_copy(const bk_json *value)
{
    return outer(json_deep_copy(inner(value)));
}
void bk_json_free(bk_json *value)
{
    json_decref(inner(value));
}

void bk_json_put(bk_json *object, const char *key, bk_json *child)
{
    json_object_set_new(inner(object), key, inner(child));
}
void bk_json_push(bk_json *array, bk_json *child)
{
    json_array_append_new(inner(array), inner(child));
}
void bk_json_drop(bk_json *object, const char *key)
{
    json_object_del(inner(object), key);
}

void bk_json_put_text(bk_json *object, const char *key, const char *text)
{
    bk_json_put(object, key, bk_json_new_text(text));
}
void bk_json_put_real(bk_json *object, const char *key, double value)
{
    bk_json_put(object, key, bk_json_new_real(value));
}
static bk_json *new_fixed(double value, int decimals)
{
    return bk_json_new_real(isfinite(value) ? bk_round_to(value, decimals) : value);
}
void bk_json_put_fixed(bk_json *object, const char *key, double value, int decimals)
{
    bk_json_put(object, key, new_fixed(value, decimals));
}
void bk_json_put_integer(bk_json *object, const char *key, int64_t value)
{
    bk_json_put(object, key, bk_json_new_integer(value));
}
void bk_json_put_bool(bk_json *object, const char *key, bool value)
{
    bk_json_put(object, key, bk_json_new_bool(value));
}
void bk_json_put_null(bk_json *object, const char *key)
{
    bk_json_put(object, key, bk_json_new_null());
}
void bk_json_put_qty(bk_json *object, const char *key, bk_qty q, int decimals)
{
    if (!bk_has(q) || !isfinite(q.value)) {
        bk_json_put_null(object, key);
        return;
    }
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "value", q.value, decimals);
    bk_json_put_fixed(out, "sd", q.sd, decimals);
    bk_json_put_text(out, "origin", bk_origin_name(q.origin));
    bk_json_put(object, key, out);
}
void bk_json_put_reals(bk_json *object, const char *key, const double *values, size_t n, int decimals)
{
    bk_json *out = bk_json_array();
    for (size_t i = 0; i < n; i++)
        bk_json_push(out, new_fixed(values[i], decimals));
    bk_json_put(object, key, out);
}

bool bk_json_is_object(const bk_json *value)
{
    return json_is_object(inner(value));
}
bool bk_json_is_array(const bk_json *value)
{
    return json_is_array(inner(value));
}
bool bk_json_is_text(const bk_json *value)
{
    return json_is_string(inner(value));
}
bool bk_json_is_number(const bk_json *value)
{
    return json_is_number(inner(value));
}
bool bk_json_is_bool(const bk_json *value)
{
    return json_is_boolean(inner(value));
}
bool bk_json_is_null(const bk_json *value)
{
    return json_is_null(inner(value));
}
const char *bk_json_kind_name(const bk_json *value)
{
    if (!value)
        return "nothing";
    switch (json_typeof(inner(value))) {
    case JSON_OBJECT:
        return "an object";
    case JSON_ARRAY:
        return "an array";
    case JSON_STRING:
        return "a text";
    case JSON_INTEGER:
    case JSON_REAL:
        return "a number";
    case JSON_TRUE:
    case JSON_FALSE:
        return "true or false";
    case JSON_NULL:
        break;
    }
    return "null";
}

bk_json *bk_json_get(const bk_json *value, const char *key)
{
    return outer(json_object_get(inner(value), key));
}

bk_json *bk_json_path(const bk_json *value, const char *path)
{
    const bk_json *at = value;
    while (at && *path) {
        char key[64];
        const size_t n = strcspn(path, ".");
        if (n == 0 || n >= sizeof key)
            return NULL;
        memcpy(key, path, n);
        key[n] = '\0';
        int64_t index;
        if (bk_json_is_array(at))
            at = bk_integer_read(key, n, &index) && index >= 0 ? bk_json_at(at, (size_t)index) : NULL;
        else
            at = bk_json_get(at, key);
        path += n + (path[n] == '.');
    }
    return outer(inner(at));
}

size_t bk_json_count(const bk_json *value)
{
    if (bk_json_is_object(value))
        return json_object_size(inner(value));
    return json_array_size(inner(value));
}
bk_json *bk_json_at(const bk_json *array, size_t index)
{
    return outer(json_array_get(inner(array), index));
}
const char *bk_json_key_at(const bk_json *object, size_t i, bk_json **value)
{
    void *member = json_object_iter(inner(object));
    while (member && i-- > 0)
        member = json_object_iter_next(inner(object), member);
    *value = member ? outer(json_object_iter_value(member)) : NULL;
    return member ? json_object_iter_key(member) : NULL;
}
const char *bk_json_text(const bk_json *value)
{
    const char *text = json_string_value(inner(value));
    return text ? text : "";
}
double bk_json_number(const bk_json *value)
{
    return bk_json_is_number(value) ? json_number_value(inner(value)) : (double)NAN;
}
bool bk_json_true(const bk_json *value)
{
    return json_is_true(inner(value));
}

bk_status bk_json_read(const char *text, size_t n, bk_json **out, bk_err *err)
{
    json_error_t fault;
    *out = outer(json_loadb(text, n, JSON_REJECT_DUPLICATES, &fault));
    if (*out)
        return BK_OK;
    return bk_fail(err, BK_E_DATA, "not JSON: %s at line %d, column %d", fault.text, fault.line, fault.column);
}

bk_status bk_json_read_file(const char *path, bk_json **out, bk_err *err)
{
    char *text;
    size_t n;
    *out = NULL;
    bk_status status = bk_file_read(path, BK_JSON_BYTES_MAX, &text, &n, err);
    if (status != BK_OK)
        return status;
    status = bk_json_read(text, n, out, err);
    free(text);
    return status == BK_OK ? BK_OK : bk_fail_in(err, path);
}

/* ---- printing ---- */

typedef struct printer {
    char *text;
    size_t n, room;
    bool failed;
} printer;

static void add(printer *p, const char *text, size_t n)
{
    if (p->failed)
        return;
    if (p->room - p->n < n + 1) {
        const size_t room = (p->room + n + 1) * 2;
        char *larger = realloc(p->text, room);
        if (!larger) {
            p->failed = true;
            return;
        }
        p->text = larger;
        p->room = room;
    }
    memcpy(p->text + p->n, text, n);
    p->n += n;
    p->text[p->n] = '\0';
}
static void add_text(printer *p, const char *text)
{
    add(p, text, strlen(text));
}
static void add_indent(printer *p, int depth)
{
    add_text(p, "\n");
    for (int i = 0; i < depth; i++)
        add_text(p, "  ");
}

static void add_quoted(printer *p, const char *text)
{
    add_text(p, "\"");
    for (; *text; text++) {
        const unsigned char c = (unsigned char)*text;
        static const char digits[] = "0123456789abcdef";
        if (c == '"' || c == '\\')
            add(p, (const char[]){'\\', (char)c}, 2);
        else if (c == '\n')
            add_text(p, "\\n");
        else if (c < 0x20 || c == 0x7f)
            add(p, (const char[]){'\\', 'u', '0', '0', digits[c >> 4], digits[c & 15]}, 6);
        else
            add(p, text, 1);
    }
    add_text(p, "\"");
}

static void add_scalar(printer *p, json_t *value)
{
    char number[BK_NUMBER_TEXT];
    switch (json_typeof(value)) {
    case JSON_STRING:
        add_quoted(p, json_string_value(value));
        break;
    case JSON_INTEGER:
        snprintf(number, sizeof number, "%" JSON_INTEGER_FORMAT, json_integer_value(value));
        add_text(p, number);
        break;
    case JSON_REAL:
        add_text(p, bk_number_print(number, json_real_value(value)));
        break;
    case JSON_TRUE:
        add_text(p, "true");
        break;
    case JSON_FALSE:
        add_text(p, "false");
        break;
    case JSON_NULL:
    case JSON_OBJECT:
    case JSON_ARRAY:
        add_text(p, "null");
        break;
    }
}

static bool is_plain(json_t *value)
{
    return !json_is_object(value) && !json_is_array(value);
}

/* Points ([x, y]) count as plain, so that a list of them stays on one line too. */
static bool fits_one_line(json_t *array, int nesting)
{
    size_t i;
    json_t *item;
    json_array_foreach(array, i, item)
    {
        const bool point = nesting > 0 && json_is_array(item) && fits_one_line(item, nesting - 1);
        if (!is_plain(item) && !point)
            return false;
    }
    return true;
}

static void add_value(printer *p, json_t *value, int depth);

static void add_array(printer *p, json_t *array, int depth)
{
    const bool one_line = fits_one_line(array, 1);
    size_t i;
    json_t *item;
    add_text(p, "[");
    json_array_foreach(array, i, item)
    {
        if (i > 0)
            add_text(p, one_line ? ", " : ",");
        if (!one_line)
            add_indent(p, depth + 1);
        add_value(p, item, depth + 1);
    }
    if (!one_line)
        add_indent(p, depth);
    add_text(p, "]");
}

/* A quantity or another small object of plain values reads best on one line. */
static bool is_short_object(json_t *object)
{
    const char *key;
    json_t *member;
    json_object_foreach(object, key, member)
    {
        if (!is_plain(member) || (json_is_string(member) && json_string_length(member) > 24))
            return false;
    }
    return json_object_size(object) <= 4;
}

static void add_object(printer *p, json_t *object, int depth)
{
    const bool one_line = is_short_object(object);
    const char *key;
    json_t *member;
    bool first = true;
    add_text(p, "{");
    json_object_foreach(object, key, member)
    {
        if (!first)
            add_text(p, one_line ? ", " : ",");
        first = false;
        if (!one_line)
            add_indent(p, depth + 1);
        add_quoted(p, key);
        add_text(p, ": ");
        add_value(p, member, depth + 1);
    }
    if (!one_line)
        add_indent(p, depth);
    add_text(p, "}");
}

static void add_value(printer *p, json_t *value, int depth)
{
    if (depth > DEPTH_MAX || !value)
        p->failed = true;
    else if (json_is_object(value))
        add_object(p, value, depth);
    else if (json_is_array(value))
        add_array(p, value, depth);
    else
        add_scalar(p, value);
}

bk_status bk_json_write(const bk_json *value, char **out, size_t *n, bk_err *err)
{
    printer p = {0};
    add_value(&p, inner(value), 0);
    add_text(&p, "\n");
    *out = NULL;
    *n = 0;
    if (p.failed) {
        free(p.text);
        return bk_fail(err, BK_E_INTERNAL, "JSON could not be printed (out of memory, or deeper than %d)", DEPTH_MAX);
    }
    *out = p.text;
    *n = p.n;
    return BK_OK;
}

void bk_json_text_free(char *text)
{
    free(text);
}

bk_status bk_json_write_file(const bk_json *value, const char *path, bk_err *err)
{
    char *text;
    size_t n;
    bk_status status = bk_json_write(value, &text, &n, err);
    if (status == BK_OK)
        status = bk_file_write(path, text, n, err);
    bk_json_text_free(text);
    return status;
}
