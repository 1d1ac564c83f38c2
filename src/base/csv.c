/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/csv.h"

#include <string.h>

void bk_csv_start(bk_csv *csv, char *text, size_t n)
{
    const bool marked = n >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0;
    *csv = (bk_csv){text + (marked ? 3 : 0), text + n, 0, 1};
}

static bool at_line_end(const bk_csv *csv)
{
    return csv->at >= csv->end || *csv->at == '\n' ||
           (*csv->at == '\r' && (csv->at + 1 >= csv->end || csv->at[1] == '\n'));
}

static void pass_line_end(bk_csv *csv)
{
    if (csv->at < csv->end && *csv->at == '\r')
        csv->at++;
    if (csv->at < csv->end)
        csv->at++;
    csv->next_line++;
}

static bk_status plain_cell(bk_csv *csv, char **stop, bk_err *err)
{
    for (; !at_line_end(csv) && *csv->at != ','; csv->at++)
        if (*csv->at == '"' || *csv->at == '\0')
            return bk_fail(err, BK_E_DATA,
                           "line %d: a %s was found inside a cell, the cell was expected in quotes",
                           csv->line, *csv->at ? "quote" : "zero byte");
    *stop = csv->at;
    return BK_OK;
}

/* at stands on the opening quote; the decoded cell begins one behind it. */
static bk_status quoted_cell(bk_csv *csv, char **stop, bk_err *err)
{
    char *to = ++csv->at;
    for (;; csv->at++) {
        if (csv->at >= csv->end)
            return bk_fail(err, BK_E_DATA,
                           "line %d: the text ends inside quotes, a closing quote was expected", csv->line);
        if (*csv->at == '"') {
            if (csv->at + 1 < csv->end && csv->at[1] == '"')
                csv->at++;
            else
                break;
        }
        csv->next_line += *csv->at == '\n';
        *to++ = *csv->at;
    }
    csv->at++;
    *stop = to;
    if (!at_line_end(csv) && *csv->at != ',')
        return bk_fail(err, BK_E_DATA, "line %d: text was found behind a closing quote, a comma was expected",
                       csv->line);
    return BK_OK;
}

bk_status bk_csv_next(bk_csv *csv, const char **cells, size_t cells_max, size_t *n, bk_err *err)
{
    *n = 0;
    while (csv->at < csv->end && at_line_end(csv))
        pass_line_end(csv);
    csv->line = csv->next_line;
    if (csv->at >= csv->end)
        return BK_OK;
    for (;;) {
        if (*n == cells_max)
            return bk_fail(err, BK_E_DATA, "line %d: more than %zu cells were found", csv->line, cells_max);
        const bool quoted = !at_line_end(csv) && *csv->at == '"';
        char *stop = NULL;
        cells[(*n)++] = csv->at + (quoted ? 1 : 0);
        const bk_status status = quoted ? quoted_cell(csv, &stop, err) : plain_cell(csv, &stop, err);
        if (status != BK_OK)
            return status;
        const bool more = !at_line_end(csv);
        if (more)
            csv->at++;
        else
            pass_line_end(csv);
        *stop = '\0'; // last, since it may overwrite the comma or line end just passed
        if (!more)
            return BK_OK;
    }
}
