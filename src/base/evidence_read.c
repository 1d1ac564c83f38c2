/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One row of an evidence table: what it must have, checked in one place for the build and for users' own
 * rows. */
#include <math.h>
#include <string.h>

#include "base/evidence.h"
#include "base/nearest.h"
#include "base/number.h"

enum column {
    ID,
    TOPIC,
    NAME,
    VALUE,
    SD,
    LOW,
    HIGH,
    INTERVAL,
    UNIT,
    POPULATION,
    END_POINT,
    TEXT,
    SOURCE,
    DOI,
    STANDING,
    EDITION,
    CHECKED
};

static const struct {
    const char *name;
    bool required; /* the column must exist and no cell of it may be empty */
} columns[BK_EVIDENCE_COLUMNS] = {
    [ID] = {"id", true},
    [TOPIC] = {"topic", true},
    [NAME] = {"name", true},
    [VALUE] = {"value", false},
    [SD] = {"sd", false},
    [LOW] = {"low", false},
    [HIGH] = {"high", false},
    [INTERVAL] = {"interval", false},
    [UNIT] = {"unit", true},
    [POPULATION] = {"population", false},
    [END_POINT] = {"end_point", false},
    [TEXT] = {"text", true},
    [SOURCE] = {"source", true},
    [DOI] = {"doi", false},
    [STANDING] = {"standing", true},
    [EDITION] = {"edition", false},
    [CHECKED] = {"checked", false},
};

static int find_column(const char *name, bk_nearest *best)
{
    for (int i = 0; i < BK_EVIDENCE_COLUMNS; i++) {
        bk_nearest_offer(best, name, columns[i].name);
        if (strcmp(columns[i].name, name) == 0)
            return i;
    }
    return -1;
}

bk_status bk_evidence_read_header(const char *const *cells, size_t n, bk_evidence_header *out, bk_err *err)
{
    out->n = n;
    for (int i = 0; i < BK_EVIDENCE_COLUMNS; i++)
        out->column[i] = -1;
    for (size_t k = 0; k < n; k++) {
        bk_nearest best = {0};
        const int found = find_column(cells[k], &best);
        if (found < 0)
            return bk_fail(err, BK_E_DATA, "column \"%s\" is unknown, the nearest known one is %s", cells[k],
                           best.word);
        if (out->column[found] >= 0)
            return bk_fail(err, BK_E_DATA, "column \"%s\" was found twice", cells[k]);
        out->column[found] = (int)k;
    }
    for (int i = 0; i < BK_EVIDENCE_COLUMNS; i++)
        if (columns[i].required && out->column[i] < 0)
            return bk_fail(err, BK_E_DATA, "column \"%s\" is missing", columns[i].name);
    return BK_OK;
}

static const char *cell(const bk_evidence_header *header, const char *const *cells, enum column which)
{
    return header->column[which] < 0 ? "" : cells[header->column[which]];
}

static bk_status read_number(const bk_evidence_header *header, const char *const *cells, enum column which,
                             double *out, bk_err *err)
{
    const char *text = cell(header, cells, which);
    *out = (double)NAN;
    if (!*text || bk_number_read(text, strlen(text), out))
        return BK_OK;
    return bk_fail(err, BK_E_DATA, "%s \"%s\" was found, a number was expected", columns[which].name, text);
}

static bk_status read_numbers(const bk_evidence_header *header, const char *const *cells, bk_evidence *out,
                              bk_err *err)
{
    bk_status status = read_number(header, cells, VALUE, &out->value, err);
    if (status == BK_OK)
        status = read_number(header, cells, SD, &out->sd, err);
    if (status == BK_OK)
        status = read_number(header, cells, LOW, &out->low, err);
    if (status == BK_OK)
        status = read_number(header, cells, HIGH, &out->high, err);
    if (status != BK_OK)
        return status;
    if (isnan(out->low) != isnan(out->high) || isnan(out->low) != !*out->interval)
        return bk_fail(err, BK_E_DATA, "low, high and interval were expected all three or none");
    if (out->low > out->high || out->value < out->low || out->value > out->high)
        return bk_fail(err, BK_E_DATA,
                       "value %g, low %g, high %g were found, low <= value <= high was expected", out->value,
                       out->low, out->high);
    const bool numbers = !isnan(out->value) || !isnan(out->low) || !isnan(out->sd);
    if (numbers == (strcmp(out->unit, "none") == 0))
        return bk_fail(err, BK_E_DATA, "unit \"%s\" was found, %s was expected", out->unit,
                       numbers ? "the unit of the numbers" : "\"none\" for a row without numbers");
    return BK_OK;
}

static bk_status read_standing(const char *text, bk_standing *out, bk_err *err)
{
    for (bk_standing s = BK_SEEN; s <= BK_COMMON_PRACTICE; s++)
        if (strcmp(text, bk_standing_name(s)) == 0) {
            *out = s;
            return BK_OK;
        }
    return bk_fail(err, BK_E_DATA, "standing \"%s\" was found, seen, memory or common practice was expected",
                   text);
}

static bk_status check_texts(const bk_evidence *row, bk_err *err)
{
    static const char letters[] = "abcdefghijklmnopqrstuvwxyz0123456789_";
    if (strspn(row->id, letters) != strlen(row->id))
        return bk_fail(err, BK_E_DATA, "id \"%s\" was found, lower-case letters, digits and _ were expected",
                       row->id);
    if (row->doi[0] && strncmp(row->doi, "10.", 3) != 0)
        return bk_fail(err, BK_E_DATA, "doi \"%s\" was found, one that begins with 10. was expected",
                       row->doi);
    const char *day = row->checked;
    const bool dated =
        strlen(day) == 10 && day[4] == '-' && day[7] == '-' && strspn(day, "0123456789-") == 10;
    if ((day[0] && !dated) || (row->standing == BK_SEEN && !dated))
        return bk_fail(err, BK_E_DATA, "checked \"%s\" was found, a day as 2026-11-25 was expected", day);
    return BK_OK;
}

bk_status bk_evidence_read_row(const bk_evidence_header *header, const char *const *cells, size_t n,
                               bk_evidence *out, bk_err *err)
{
    *out = (bk_evidence){0};
    if (n != header->n)
        return bk_fail(err, BK_E_DATA, "%zu cells were found, %zu as in the first line were expected", n,
                       header->n);
    for (int i = 0; i < BK_EVIDENCE_COLUMNS; i++)
        if (columns[i].required && !*cell(header, cells, (enum column)i))
            return bk_fail(err, BK_E_DATA, "the %s is empty", columns[i].name);
    out->id = cell(header, cells, ID);
    out->topic = cell(header, cells, TOPIC);
    out->name = cell(header, cells, NAME);
    out->interval = cell(header, cells, INTERVAL);
    out->unit = cell(header, cells, UNIT);
    out->population = cell(header, cells, POPULATION);
    out->end_point = cell(header, cells, END_POINT);
    out->text = cell(header, cells, TEXT);
    out->source = cell(header, cells, SOURCE);
    out->doi = cell(header, cells, DOI);
    out->edition = cell(header, cells, EDITION);
    out->checked = cell(header, cells, CHECKED);
    bk_status status = read_numbers(header, cells, out, err);
    if (status == BK_OK)
        status = read_standing(cell(header, cells, STANDING), &out->standing, err);
    return status == BK_OK ? check_texts(out, err) : status;
}
