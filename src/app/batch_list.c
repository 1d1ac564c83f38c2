/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/batch_list.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/csv.h"
#include "base/file.h"
#include "base/format.h"
#include "base/nearest.h"
#include "base/number.h"

#define LIST_BYTES_MAX ((size_t)64 << 20)

enum { FILE_NAME, FRAME, FIRST_CLICK, MM_PER_PX = FIRST_CLICK + 6, COLUMNS };
static const char *const names[COLUMNS] = {"file", "frame", "proximal_x", "proximal_y", "distal_x", "distal_y",
                                           "side_x", "side_y", "mm_per_px"};

typedef struct header {
    int what[COLUMNS]; /* of each column of the file */
    size_t n;
} header;

static bk_status read_header(bk_csv *csv, header *out, bk_err *err)
{
    const char *cells[COLUMNS + 1];
    bool seen[COLUMNS] = {false};
    bk_status status = bk_csv_next(csv, cells, COLUMNS + 1, &out->n, err);
    if (status != BK_OK)
        return status;
    for (size_t i = 0; i < out->n; i++) {
        int k = 0;
        bk_nearest best = {0};
        for (; k < COLUMNS && strcmp(cells[i], names[k]) != 0; k++)
            bk_nearest_offer(&best, cells[i], names[k]);
        if (k == COLUMNS)
            return bk_fail(err, BK_E_DATA, "line %d: column \"%.40s\" is unknown, the nearest known one is \"%s\"", csv->line,
                           cells[i], best.word);
        if (seen[k])
            return bk_fail(err, BK_E_DATA, "line %d: column \"%s\" was found twice", csv->line, names[k]);
        seen[k] = true;
        out->what[i] = k;
    }
    for (int k = 0; k < COLUMNS; k++)
        if (!seen[k] && k != MM_PER_PX)
            return bk_fail(err, BK_E_DATA, "line %d: no column \"%s\" was found, the names %s to %s were expected",
                           csv->line > 0 ? csv->line : 1, names[k], names[FILE_NAME], names[MM_PER_PX - 1]);
    return BK_OK;
}

static bk_status read_cell(int line, int what, const char *cell, bk_batch_row *out, bk_err *err)
{
    double real = NAN;
    int64_t whole;
    const bool is_real = bk_number_read(cell, strlen(cell), &real);
    if (what == FILE_NAME) {
        out->file = cell;
        return *cell ? BK_OK : bk_fail(err, BK_E_DATA, "line %d: an empty file was found, a file name was expected", line);
    }
    if (what == FRAME) {
        if (!bk_integer_read(cell, strlen(cell), &whole) || whole < 1 || whole > INT32_MAX)
            return bk_fail(err, BK_E_DATA, "line %d: frame \"%.40s\" was found, a whole number from 1 was expected", line, cell);
        out->frame = (int32_t)whole;
        return BK_OK;
    }
    if (what == MM_PER_PX) {
        out->mm_per_px = *cell ? real : (double)NAN;
        if (*cell && !(is_real && real > 0))
            return bk_fail(err, BK_E_DATA, "line %d: mm_per_px \"%.40s\" was found, a number above 0 or nothing was expected",
                           line, cell);
        return BK_OK;
    }
    if (!is_real)
        return bk_fail(err, BK_E_DATA, "line %d: %s \"%.40s\" was found, a number was expected", line, names[what], cell);
    out->click_px[(what - FIRST_CLICK) / 2][(what - FIRST_CLICK) % 2] = real;
    return BK_OK;
}

/* A name in the list is relative to the folder of the list. */
static bk_status resolve(const char *list, bk_batch_row *row, bk_arena *arena, bk_err *err)
{
    const char *slash = strrchr(list, '/');
    row->path = row->file;
    if (row->file[0] == '/' || !slash)
        return BK_OK;
    const size_t folder = (size_t)(slash - list) + 1, room = folder + strlen(row->file) + 1;
    char *path = BK_NEW(arena, room, char, err);
    if (!path)
        return err->status;
    memcpy(path, list, folder);
    memcpy(path + folder, row->file, room - folder);
    row->path = path;
    return BK_OK;
}

static bk_status read_rows(const char *list, bk_csv *csv, const header *head, bk_arena *arena, bk_batch_list *out,
                           bk_err *err)
{
    for (;; out->n++) {
        const char *cells[COLUMNS + 1];
        size_t n;
        bk_status status = bk_csv_next(csv, cells, COLUMNS + 1, &n, err);
        if (status != BK_OK || n == 0)
            return status;
        if (n != head->n)
            return bk_fail(err, BK_E_DATA, "line %d: %zu cells were found, %zu were expected", csv->line, n, head->n);
        bk_batch_row *row = &out->rows[out->n];
        row->mm_per_px = NAN;
        for (size_t i = 0; status == BK_OK && i < n; i++)
            status = read_cell(csv->line, head->what[i], cells[i], row, err);
        if (status == BK_OK)
            status = resolve(list, row, arena, err);
        if (status != BK_OK)
            return status;
    }
}

bk_status bk_batch_list_read(const char *path, bk_arena *arena, bk_batch_list *out, bk_err *err)
{
    char *bytes;
    size_t n, lines = 1;
    *out = (bk_batch_list){0};
    bk_status status = bk_file_read(path, LIST_BYTES_MAX, &bytes, &n, err);
    if (status != BK_OK)
        return status;
    char *text = BK_NEW(arena, n + 1, char, err);
    for (size_t i = 0; i < n; i++)
        lines += bytes[i] == '\n';
    out->rows = text ? BK_NEW(arena, lines, bk_batch_row, err) : NULL;
    if (text)
        memcpy(text, bytes, n);
    free(bytes);
    if (!out->rows)
        return err->status;
    bk_csv csv;
    header head;
    bk_csv_start(&csv, text, n);
    status = read_header(&csv, &head, err);
    if (status == BK_OK)
        status = read_rows(path, &csv, &head, arena, out, err);
    if (status == BK_OK && out->n == 0)
        status = bk_fail(err, BK_E_DATA, "line %d: the list ends behind its column names, a row was expected", csv.line);
    return status == BK_OK ? BK_OK : bk_fail_in(err, path);
}
