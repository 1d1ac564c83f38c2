/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/corrections.h"

#include <string.h>

#include "base/field.h"
#include "base/number.h"
#include "core/anatomy/corrections.h"

const char *const bk_correction_names[BK_SAYS] = {"via", "edge", "exclude", "reference", "swap"};

/* ---- the JSON shape ---- */

static const char *const limb_words[] = {"", "proximal", "distal", "side", NULL};
static const char *const side_words[] = {"", "left", "right", NULL};
#define PX_MAX 65535 /* rows and columns of DICOM are 16 bits; the frame itself is checked later */

static const bk_field via_fields[] = {
    {BK_ROW_CHOICE(bk_way_point, limb, limb_words, "limb that passes here")},
    {BK_ROW_REAL(bk_way_point, x_px, "px", 0, PX_MAX, "place in the frame")},
    {BK_ROW_REAL(bk_way_point, y_px, "px", 0, PX_MAX, "place in the frame")},
    {0},
};
static const bk_field edge_fields[] = {
    {BK_ROW_CHOICE(bk_drawn_edge, limb, limb_words, "limb whose edge is drawn")},
    {BK_ROW_CHOICE(bk_drawn_edge, side, side_words, "which edge, walking away from the branch point")},
    {BK_ROW_REALS(bk_drawn_edge, x_px, "px", "corners of the polyline")},
    {BK_ROW_REALS(bk_drawn_edge, y_px, "px", "corners of the polyline")},
    {0},
};
static const bk_field exclude_fields[] = {
    {BK_ROW_CHOICE(bk_exclusion, limb, limb_words, "limb with the stretch")},
    {BK_ROW_REAL(bk_exclusion, from_mm, "mm", 0, 300, "position from the branch point")},
    {BK_ROW_REAL(bk_exclusion, to_mm, "mm", 0, 300, "position from the branch point")},
    {0},
};
static const bk_field reference_fields[] = {
    {BK_ROW_CHOICE(bk_forced_reference, limb, limb_words, "limb with this reference")},
    {BK_ROW_QTY(bk_forced_reference, reference_mm, "mm", 0.3, 15, BK_ENTERED, "healthy diameter at the MLD")},
    {0},
};
static const bk_field swap_fields[] = {
    {BK_ROW_CHOICE(bk_swap, limb, limb_words, "limb whose click changes")},
    {BK_ROW_CHOICE(bk_swap, with, limb_words, "place with this one's")},
    {0},
};
static const bk_field correction_fields[] = {
    {BK_ROW_LIST(bk_corrections, via, bk_way_point, via_fields, "way-points, from the branching outwards")},
    {BK_ROW_LIST(bk_corrections, edge, bk_drawn_edge, edge_fields, "edges drawn by hand")},
    {BK_ROW_LIST(bk_corrections, exclude, bk_exclusion, exclude_fields, "stretches that do not count")},
    {BK_ROW_LIST(bk_corrections, reference, bk_forced_reference, reference_fields, "references entered")},
    {BK_ROW_LIST(bk_corrections, swap, bk_swap, swap_fields, "clicks that change places")},
    {0},
};

bk_json *bk_app_corrections_json(const bk_corrections *corrections)
{
    return bk_fields_print(correction_fields, corrections);
}

/* ---- from the texts of the command line to the same shape ---- */

#define NUMBERS_MAX 512

/* A text being read: "LIMB:..." of option --name. */
typedef struct phrase {
    const char *name, *whole, *rest;
    const char *expected;
    bk_json *out;
    bk_err *err;
} phrase;

static bk_status unlike(const phrase *p)
{
    return bk_fail(p->err, BK_E_USAGE, "--%s \"%s\" was found, %s was expected", p->name, p->whole, p->expected);
}

/* A word up to `end`, one of `known`, into key. */
static bk_status take_word(phrase *p, char end, const char *const *known, const char *key)
{
    const char *stop = end ? strchr(p->rest, end) : p->rest + strlen(p->rest);
    for (int i = 1; stop && known[i]; i++)
        if (strlen(known[i]) == (size_t)(stop - p->rest) && strncmp(known[i], p->rest, (size_t)(stop - p->rest)) == 0) {
            bk_json_put_text(p->out, key, known[i]);
            p->rest = stop + (end != '\0');
            return BK_OK;
        }
    return unlike(p);
}

static bk_status take_numbers(const phrase *p, double value[NUMBERS_MAX], size_t least, size_t most, size_t *n)
{
    const char *at = p->rest;
    for (*n = 0; *n < most; at++) {
        const size_t length = strcspn(at, ",");
        if (!bk_number_read(at, length, &value[*n]))
            return unlike(p);
        (*n)++;
        at += length;
        if (*at == '\0')
            return *n >= least ? BK_OK : unlike(p);
    }
    return unlike(p);
}

/* LIMB: and two numbers, put under these keys. */
static bk_status take_pair(phrase *p, const char *first, const char *second)
{
    double v[NUMBERS_MAX];
    size_t n;
    if (take_word(p, ':', limb_words, "limb") != BK_OK || take_numbers(p, v, 2, 2, &n) != BK_OK)
        return BK_E_USAGE;
    bk_json_put_real(p->out, first, v[0]);
    bk_json_put_real(p->out, second, v[1]);
    return BK_OK;
}

static bk_status take_via(phrase *p)
{
    p->expected = "LIMB:X,Y with LIMB proximal, distal or side";
    return take_pair(p, "x_px", "y_px");
}

static bk_status take_edge(phrase *p)
{
    double v[NUMBERS_MAX];
    size_t n;
    p->expected = "LIMB:left|right:X1,Y1,X2,Y2 with at least two points";
    if (take_word(p, ':', limb_words, "limb") != BK_OK || take_word(p, ':', side_words, "side") != BK_OK ||
        take_numbers(p, v, 4, NUMBERS_MAX, &n) != BK_OK)
        return BK_E_USAGE;
    if (n % 2)
        return unlike(p);
    bk_json *x = bk_json_array(), *y = bk_json_array();
    for (size_t i = 0; i < n; i++)
        bk_json_push(i % 2 ? y : x, bk_json_new_real(v[i]));
    bk_json_put(p->out, "x_px", x);
    bk_json_put(p->out, "y_px", y);
    return BK_OK;
}

static bk_status take_exclude(phrase *p)
{
    p->expected = "LIMB:FROM_MM,TO_MM with LIMB proximal, distal or side";
    return take_pair(p, "from_mm", "to_mm");
}

static bk_status take_reference(phrase *p)
{
    double v[NUMBERS_MAX];
    size_t n;
    p->expected = "LIMB:MM or LIMB:MM,SD with LIMB proximal, distal or side";
    if (take_word(p, ':', limb_words, "limb") != BK_OK || take_numbers(p, v, 1, 2, &n) != BK_OK)
        return BK_E_USAGE;
    bk_json *q = bk_json_object();
    bk_json_put_real(q, "value", v[0]);
    if (n == 2)
        bk_json_put_real(q, "sd", v[1]);
    bk_json_put_text(q, "origin", bk_origin_name(BK_ENTERED));
    bk_json_put(p->out, "reference_mm", q);
    return BK_OK;
}

static bk_status take_swap(phrase *p)
{
    p->expected = "LIMB,LIMB of proximal, distal and side";
    if (take_word(p, ',', limb_words, "limb") != BK_OK)
        return BK_E_USAGE;
    return take_word(p, '\0', limb_words, "with");
}

static bk_status texts_json(const bk_correction_texts *texts, bk_json *out, bk_err *err)
{
    static bk_status (*const take[BK_SAYS])(phrase *) = {take_via, take_edge, take_exclude, take_reference, take_swap};
    for (int k = 0; k < BK_SAYS; k++) {
        bk_json *list = bk_json_array();
        bk_json_put(out, bk_correction_names[k], list);
        for (int i = 0; i < texts->n[k]; i++) {
            phrase p = {bk_correction_names[k], texts->text[k][i], texts->text[k][i], "", bk_json_object(), err};
            bk_json_push(list, p.out);
            if (take[k](&p) != BK_OK)
                return BK_E_USAGE;
        }
    }
    return BK_OK;
}

/* ---- reading ---- */

static bk_status read_texts(const bk_correction_texts *texts, int rows, int cols, bk_arena *arena, bk_corrections *out,
                            bk_err *err)
{
    bk_json *doc = bk_json_object();
    bk_err typed = {0};
    bk_status status = texts_json(texts, doc, err);
    if (status == BK_OK)
        status = bk_fields_read(correction_fields, doc, BK_KEYS_REFUSED, arena, out, &typed);
    bk_json_free(doc);
    if (typed.status == BK_E_DATA) /* a value out of range is the command line's fault here */
        return bk_fail(err, BK_E_USAGE, "%s", typed.message);
    if (status != BK_OK)
        return typed.status == BK_OK ? status : bk_fail(err, status, "%s", typed.message);
    out->blame = BK_E_USAGE;
    return bk_corrections_check(out, rows, cols, err);
}

/* A measurement may be given as it is: its own corrections are meant. */
static bk_status read_path(const char *path, int rows, int cols, bk_arena *arena, bk_corrections *out, bk_err *err)
{
    bk_json *doc;
    bk_status status = bk_json_read_file(path, &doc, err);
    if (status != BK_OK)
        return status;
    const bool measurement = strcmp(bk_json_text(bk_json_get(doc, "schema")), "branchkeep.measurement/1") == 0;
    const bk_json *said = measurement ? bk_json_get(doc, "corrections") : doc;
    if (!bk_json_is_object(said))
        status = bk_fail(err, BK_E_DATA, "corrections: %s was found, an object was expected", bk_json_kind_name(said));
    if (status == BK_OK)
        status = bk_fields_read(correction_fields, said, BK_KEYS_REFUSED, arena, out, err);
    bk_json_free(doc);
    if (status != BK_OK)
        return bk_fail_in(err, "--corrections");
    out->blame = BK_E_DATA;
    return bk_corrections_check(out, rows, cols, err);
}

static bk_status join(bk_list *list, const bk_list *more, size_t size, bk_arena *arena, bk_err *err)
{
    if (more->n == 0)
        return BK_OK;
    char *items = bk_arena_alloc(arena, list->n + more->n, size, err);
    if (!items)
        return err ? err->status : BK_E_LIMIT;
    if (list->n > 0)
        memcpy(items, list->items, list->n * size);
    memcpy(items + list->n * size, more->items, more->n * size);
    *list = (bk_list){items, list->n + more->n};
    return BK_OK;
}

bk_status bk_app_corrections_read(const bk_correction_texts *texts, int rows, int cols, bk_arena *arena,
                                  bk_corrections *out, bk_err *err)
{
    bk_corrections typed;
    *out = (bk_corrections){.blame = BK_E_USAGE};
    bk_status status = texts->path ? read_path(texts->path, rows, cols, arena, out, err) : BK_OK;
    if (status == BK_OK)
        status = read_texts(texts, rows, cols, arena, &typed, err);
    if (status == BK_OK)
        status = join(&out->via, &typed.via, sizeof(bk_way_point), arena, err);
    if (status == BK_OK)
        status = join(&out->edge, &typed.edge, sizeof(bk_drawn_edge), arena, err);
    if (status == BK_OK)
        status = join(&out->exclude, &typed.exclude, sizeof(bk_exclusion), arena, err);
    if (status == BK_OK)
        status = join(&out->reference, &typed.reference, sizeof(bk_forced_reference), arena, err);
    if (status == BK_OK)
        status = join(&out->swap, &typed.swap, sizeof(bk_swap), arena, err);
    return status == BK_OK ? bk_corrections_check(out, rows, cols, err) : status;
}
