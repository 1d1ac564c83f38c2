/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Printing a struct through its field table, and listing the table itself. */
#include "base/field.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static bk_json *print_qty(const bk_field *row, bk_qty q)
{
    if (q.origin == row->bare && isnan(q.sd))
        return bk_json_new_real(q.value);
    bk_json *out = bk_json_object();
    bk_json_put_real(out, "value", q.value);
    if (!isnan(q.sd))
        bk_json_put_real(out, "sd", q.sd);
    bk_json_put_text(out, "origin", bk_origin_name(q.origin));
    return out;
}

static bk_json *print_list(const bk_field *row, const bk_list *list)
{
    bk_json *out = bk_json_array();
    for (size_t i = 0; i < list->n; i++)
        bk_json_push(out, bk_fields_print(row->rows, BK_ITEMS(*list, char) + i * row->size));
    return out;
}

static bk_json *print_reals(const bk_list *list)
{
    bk_json *out = bk_json_array();
    for (size_t i = 0; i < list->n; i++)
        bk_json_push(out, bk_json_new_real(BK_ITEMS(*list, double)[i]));
    return out;
}

static bk_json *print_object(const bk_field *row, const void *in)
{
    bk_json *out = bk_fields_print(row->rows, in);
    if (bk_json_count(out) > 0)
        return out;
    bk_json_free(out);
    return NULL;
}

/* NULL: absent. */
static bk_json *print_row(const bk_field *row, const void *member)
{
    switch (row->kind) {
    case BK_FIELD_REAL:
        return isnan(*(const double *)member) ? NULL : bk_json_new_real(*(const double *)member);
    case BK_FIELD_INTEGER:
        return *(const int *)member == BK_INTEGER_ABSENT ? NULL : bk_json_new_integer(*(const int *)member);
    case BK_FIELD_QTY:
        return bk_has(*(const bk_qty *)member) ? print_qty(row, *(const bk_qty *)member) : NULL;
    case BK_FIELD_TRI:
        return *(const bk_tri *)member == BK_UNKNOWN ? NULL
                                                     : bk_json_new_text(bk_tri_name(*(const bk_tri *)member));
    case BK_FIELD_CHOICE:
        return *(const int *)member == 0 ? NULL : bk_json_new_text(row->choices[*(const int *)member]);
    case BK_FIELD_TEXT:
        return *(const char *)member ? bk_json_new_text(member) : NULL;
    case BK_FIELD_OBJECT:
        return print_object(row, member);
    case BK_FIELD_MAYBE:
        return *(void *const *)member ? bk_fields_print(row->rows, *(void *const *)member) : NULL;
    case BK_FIELD_LIST:
        return ((const bk_list *)member)->n > 0 ? print_list(row, member) : NULL;
    case BK_FIELD_REALS:
        return ((const bk_list *)member)->n > 0 ? print_reals(member) : NULL;
    case BK_FIELD_JSON:
        return *(const bk_json *const *)member ? bk_json_copy(*(const bk_json *const *)member) : NULL;
    case BK_FIELD_END:
        break;
    }
    return NULL;
}

bk_json *bk_fields_print(const bk_field *rows, const void *in)
{
    bk_json *out = bk_json_object();
    for (; rows->kind != BK_FIELD_END; rows++) {
        bk_json *value = print_row(rows, (const char *)in + rows->offset);
        if (value)
            bk_json_put(out, rows->name, value);
    }
    return out;
}

static const char *kind_name(bk_field_kind kind)
{
    switch (kind) {
    case BK_FIELD_REAL:
        return "number";
    case BK_FIELD_INTEGER:
        return "whole number";
    case BK_FIELD_QTY:
        return "quantity";
    case BK_FIELD_TRI:
        return "yes/no/unknown";
    case BK_FIELD_CHOICE:
        return "choice";
    case BK_FIELD_TEXT:
        return "text";
    case BK_FIELD_REALS:
        return "numbers";
    case BK_FIELD_JSON:
        return "document";
    case BK_FIELD_OBJECT:
    case BK_FIELD_MAYBE:
    case BK_FIELD_LIST:
    case BK_FIELD_END:
        break;
    }
    return "object";
}

static void list_choices(const bk_field *row, bk_json *entry)
{
    if (row->kind != BK_FIELD_CHOICE)
        return;
    bk_json *choices = bk_json_array();
    for (int i = 0; row->choices[i]; i++)
        if (row->choices[i][0])
            bk_json_push(choices, bk_json_new_text(row->choices[i]));
    bk_json_put(entry, "choices", choices);
}

static void list_leaf(const bk_field *row, const char *topic, const char *path, bk_json *array)
{
    const bool ranged =
        row->kind == BK_FIELD_REAL || row->kind == BK_FIELD_INTEGER || row->kind == BK_FIELD_QTY;
    bk_json *entry = bk_json_object();
    bk_json_put_text(entry, "topic", topic);
    bk_json_put_text(entry, "name", path);
    bk_json_put_text(entry, "kind", kind_name(row->kind));
    bk_json_put_text(entry, "unit", row->unit);
    if (ranged) {
        bk_json_put_real(entry, "min", row->min);
        bk_json_put_real(entry, "max", row->max);
    }
    list_choices(row, entry);
    if (row->kind == BK_FIELD_QTY)
        bk_json_put_text(entry, "origin_of_a_bare_number", bk_origin_name(row->bare));
    if (row->one_of)
        bk_json_put_text(entry, "one_of", row->one_of);
    bk_json_put_text(entry, "meaning", row->meaning);
    bk_json_put_text(entry, "source", row->source ? row->source : "range of this project");
    bk_json_put_text(entry, "set_by", row->set_by ? row->set_by : "case --set");
    bk_json_push(array, entry);
}

static void list_rows(const bk_field *rows, const char *topic, const char *above, bk_json *array)
{
    char path[128];
    for (; rows->kind != BK_FIELD_END; rows++) {
        snprintf(path, sizeof path, "%s%s%s%s", above, *above ? "." : "", rows->name,
                 rows->kind == BK_FIELD_LIST ? "[]" : "");
        if (rows->rows)
            list_rows(rows->rows, topic, path, array);
        else
            list_leaf(rows, topic, path, array);
    }
}

void bk_fields_list_row(const bk_field *row, bk_json *array)
{
    const bk_field one[] = {*row, {0}};
    list_rows(one, row->name, "", array);
}
