/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <string.h>

#include "base/csv.h"

static void put(bk_csv_line *line, char c)
{
    if (line->n + 1 < line->room)
        line->text[line->n++] = c;
    else
        line->cut = true;
    line->text[line->n] = '\0';
}

void bk_csv_line_start(bk_csv_line *line, char *text, size_t room)
{
    *line = (bk_csv_line){.text = text, .room = room};
    text[0] = '\0';
}

void bk_csv_line_add(bk_csv_line *line, const char *cell)
{
    const bool quoted = cell[strcspn(cell, ",\"\r\n")] != '\0';
    if (line->cells++ > 0)
        put(line, ',');
    if (quoted)
        put(line, '"');
    for (; *cell; cell++) {
        if (*cell == '"')
            put(line, '"');
        put(line, *cell);
    }
    if (quoted)
        put(line, '"');
}

void bk_csv_line_end(bk_csv_line *line)
{
    put(line, '\n');
}
