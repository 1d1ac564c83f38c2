/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/evidence_own.h"

#include <dirent.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/csv.h"
#include "base/evidence.h"
#include "base/file.h"
#include "base/format.h"

#define ROWS_MAX 4096
#define FILES_MAX 64
#define BYTES_MAX ((size_t)4 * 1024 * 1024)
#define PATH_ROOM 1024

/* The rows in use, kept until the program ends: what is built in with a user's own over it. */
typedef struct own_rows {
    bk_evidence *rows;
    size_t n, built_in;
    bk_evidence_set set;
} own_rows;

static bk_status check_place(const bk_evidence *was, const bk_evidence *now, bk_err *err)
{
    const struct {
        const char *name;
        double was, now;
    } numbers[] = {{"value", was->value, now->value}, {"sd", was->sd, now->sd}, {"low", was->low, now->low}, {"high", was->high, now->high}};
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++)
        if (!isnan(numbers[i].was) && isnan(numbers[i].now))
            return bk_fail(err, BK_E_DATA, "row %s has no %s, the row built in has one", now->id, numbers[i].name);
    if (strcmp(was->unit, now->unit) != 0)
        return bk_fail(err, BK_E_DATA, "row %s has the unit \"%s\", \"%s\" as in the row built in was expected", now->id,
                       now->unit, was->unit);
    return BK_OK;
}

static bk_status add(own_rows *own, const bk_evidence *row, bk_err *err)
{
    for (size_t i = 0; i < own->n; i++) {
        bk_evidence *was = &own->rows[i];
        if (strcmp(was->id, row->id) != 0)
            continue;
        if (was->own)
            return bk_fail(err, BK_E_DATA, "id %s was given before", row->id);
        if (check_place(was, row, err) != BK_OK)
            return BK_E_DATA;
        *was = *row;
        was->own = true;
        return BK_OK;
    }
    if (own->n == ROWS_MAX)
        return bk_fail(err, BK_E_LIMIT, "more than %d rows", ROWS_MAX);
    own->rows[own->n] = *row;
    own->rows[own->n++].own = true;
    return BK_OK;
}

static bk_status read_rows(own_rows *own, char *text, size_t bytes, int *line, bk_err *err)
{
    bk_csv csv;
    bk_evidence_header header;
    bk_evidence row;
    const char *cells[BK_EVIDENCE_COLUMNS + 1];
    size_t n;
    bk_csv_start(&csv, text, bytes);
    bk_status status = bk_csv_next(&csv, cells, BK_EVIDENCE_COLUMNS + 1, &n, err);
    *line = 1;
    if (status == BK_OK)
        status = n == 0 ? bk_fail(err, BK_E_DATA, "an empty table was found, a line of column names was expected")
                        : bk_evidence_read_header(cells, n, &header, err);
    while (status == BK_OK) {
        status = bk_csv_next(&csv, cells, BK_EVIDENCE_COLUMNS + 1, &n, err);
        *line = csv.line;
        if (status != BK_OK || n == 0)
            return status;
        status = bk_evidence_read_row(&header, cells, n, &row, err);
        if (status == BK_OK)
            status = add(own, &row, err);
    }
    return status;
}

/* The text stays: the rows point into it. */
static bk_status read_table(own_rows *own, const char *folder, const char *name, bk_err *err)
{
    char path[PATH_ROOM], *text;
    size_t n;
    int line = 1;
    bk_err inner = {0};
    bk_format(path, sizeof path, "%s/%s", folder, name);
    bk_status status = bk_file_read(path, BYTES_MAX, &text, &n, err);
    if (status != BK_OK)
        return status;
    status = read_rows(own, text, n, &line, &inner);
    if (status == BK_OK)
        return BK_OK;
    free(text);
    return bk_fail(err, status, "%s:%d: %s", name, line, inner.message);
}

static int is_table(const struct dirent *entry)
{
    const size_t n = strlen(entry->d_name);
    return n > 4 && strcmp(entry->d_name + n - 4, ".csv") == 0;
}

static bk_status read_folder(own_rows *own, const char *folder, bk_err *err)
{
    struct dirent **names;
    const int n = scandir(folder, &names, is_table, alphasort);
    if (n < 0)
        return bk_fail(err, BK_E_IO, "the evidence folder %s cannot be read", folder);
    bk_status status = n == 0 ? bk_fail(err, BK_E_DATA, "the evidence folder %s holds no table, *.csv was expected", folder) : BK_OK;
    if (n > FILES_MAX)
        status = bk_fail(err, BK_E_LIMIT, "%d tables were found in %s, at most %d were expected", n, folder, FILES_MAX);
    for (int i = 0; i < n; i++) {
        if (status == BK_OK)
            status = read_table(own, folder, names[i]->d_name, err);
        free(names[i]);
    }
    free(names);
    return status;
}

bk_status bk_app_evidence_own(const char *folder, bk_err *err)
{
    static own_rows own;
    const bk_evidence_set *compiled = bk_evidence_compiled();
    own = (own_rows){.rows = malloc(ROWS_MAX * sizeof *own.rows), .n = compiled->n, .built_in = compiled->n};
    if (!own.rows)
        return bk_fail(err, BK_E_INTERNAL, "out of memory");
    memcpy(own.rows, compiled->rows, compiled->n * sizeof *own.rows);
    const bk_status status = read_folder(&own, folder, err);
    if (status != BK_OK) {
        free(own.rows);
        return status;
    }
    own.set = (bk_evidence_set){own.rows, own.n};
    bk_evidence_use(&own.set);
    return BK_OK;
}
