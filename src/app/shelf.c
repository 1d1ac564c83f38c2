/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/shelf.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "app/app.h"
#include "base/file.h"
#include "base/nearest.h"

#define MEMORY_CAP ((size_t)16 * 1024 * 1024)

/* The reader writes into the text, so it gets a copy of its own. */
static bk_status read_copy(const char *text, size_t n, const char *name, bk_arena *arena, bk_stock *out,
                           bk_err *err)
{
    char *copy = BK_NEW(arena, n + 1, char, err);
    if (!copy)
        return err->status;
    memcpy(copy, text, n);
    const bk_status status = bk_stock_read(copy, n, arena, out, err);
    out->name = name;
    return status;
}

static bk_status read_file(const char *path, bk_arena *arena, bk_stock *out, bk_err *err)
{
    char *text;
    size_t n;
    bk_status status = bk_file_read(path, BK_STOCK_BYTES_MAX, &text, &n, err);
    if (status != BK_OK)
        return status;
    status = read_copy(text, n, "entered", arena, out, err);
    free(text);
    return status == BK_OK ? status : bk_fail_in(err, path);
}

bk_status bk_app_shelf_read(const char *file, const char *name, bk_arena *arena, bk_stock *out, bool *found,
                            bk_err *err)
{
    *out = (bk_stock){.name = ""};
    *found = true;
    if (file)
        return read_file(file, arena, out, err);
    size_t n;
    for (size_t i = 0; bk_stock_builtin_name(i); i++)
        if (strcmp(bk_stock_builtin_name(i), name[0] ? name : "default") == 0) {
            const char *text = bk_stock_builtin(bk_stock_builtin_name(i), &n);
            return read_copy(text, n, bk_stock_builtin_name(i), arena, out, err);
        }
    *found = false;
    return BK_OK;
}

static void put_sizes(bk_json *item, const char *key, const bk_stock_sizes *sizes, int decimals)
{
    if (sizes->n > 0)
        bk_json_put_reals(item, key, sizes->v, sizes->n, decimals);
}

static void put_said(bk_json *item, const char *key, double value)
{
    if (!isnan(value))
        bk_json_put_fixed(item, key, value, 4);
}

static bk_json *item_json(const bk_stock_item *from)
{
    bk_json *item = bk_json_object();
    bk_json_put_text(item, "kind", bk_stock_kind_names[from->kind]);
    bk_json_put_text(item, "id", from->id);
    bk_json_put_text(item, "name", from->name);
    if (from->cls != BK_CLASS_NONE)
        bk_json_put_text(item, "class", bk_stock_class_names[from->cls]);
    put_sizes(item, "nominal_mm", &from->nominal_mm, 2);
    put_sizes(item, "length_mm", &from->length_mm, 1);
    put_sizes(item, "table_atm", &from->table_atm, 2);
    put_sizes(item, "table_mm", &from->table_mm, 3);
    put_said(item, "maximum_mm", from->maximum_mm);
    put_said(item, "recoil_pct", from->recoil_pct);
    put_said(item, "nominal_atm", from->nominal_atm);
    put_said(item, "rated_atm", from->rated_atm);
    put_said(item, "growth_pct_atm", from->growth_pct_atm);
    put_said(item, "front_mm", from->front_mm);
    put_said(item, "distal_mm", from->distal_mm);
    put_said(item, "proximal_mm", from->proximal_mm);
    put_said(item, "tip_load_g", from->tip_load_g);
    put_said(item, "inner_mm", from->inner_mm);
    put_said(item, "french", from->french);
    put_said(item, "length_cm", from->length_cm);
    bk_json_put_text(item, "standing", from->standing);
    if (from->note[0])
        bk_json_put_text(item, "note", from->note);
    return item;
}

static bool names_a_file(const char *what)
{
    const size_t n = strlen(what);
    return strchr(what, '/') || (n > 4 && strcmp(what + n - 4, ".csv") == 0);
}

bk_status bk_app_shelf_list(const char *what, bk_json **out, bk_err *err)
{
    bk_arena arena;
    bk_stock stock;
    bool found;
    *out = NULL;
    bk_arena_init(&arena, MEMORY_CAP);
    bk_status status = bk_app_shelf_read(names_a_file(what) ? what : NULL, what, &arena, &stock, &found, err);
    if (status == BK_OK && !found) {
        bk_nearest best = {0};
        for (size_t i = 0; bk_stock_builtin_name(i); i++)
            bk_nearest_offer(&best, what, bk_stock_builtin_name(i));
        status = bk_fail(err, BK_E_USAGE,
                         "stock list \"%s\" is unknown, the nearest known one is \"%s\"; a file ends in .csv",
                         what, best.word);
    }
    if (status == BK_OK) {
        bk_json *items = bk_json_array(), *cautions = bk_json_array();
        *out = bk_json_object();
        bk_json_put_text(*out, "schema", "branchkeep.shelf/1");
        bk_json_put_text(*out, "name", stock.name);
        bk_json_put_integer(*out, "n", (int64_t)stock.n);
        for (size_t i = 0; i < stock.n; i++)
            bk_json_push(items, item_json(&stock.items[i]));
        bk_json_put(*out, "items", items);
        bk_json_push(cautions, bk_json_new_text(bk_caution));
        bk_json_put(*out, "cautions", cautions);
    }
    bk_arena_clear(&arena);
    return status;
}
