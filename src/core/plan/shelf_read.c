/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A stock list from its text, checked row by row. */
#include <math.h>
#include <string.h>

#include "base/csv.h"
#include "base/nearest.h"
#include "base/number.h"
#include "core/plan/shelf.h"

const char *const bk_stock_kind_names[BK_STOCK_KINDS] = {"stent",      "balloon", "wire",     "microcatheter",
                                                         "dual_lumen", "guide",   "extension"};
const char *const bk_stock_class_names[BK_CLASSES] = {
    "", "small", "medium", "large", "extra_large", "semi", "non", "non_jacketed", "hydrophilic", "jacketed"};

/* kinds as bits */
#define STENT (1u << BK_STOCK_STENT)
#define BALLOON (1u << BK_STOCK_BALLOON)
#define WIRE (1u << BK_STOCK_WIRE)
#define CATHETER (1u << BK_STOCK_MICROCATHETER | 1u << BK_STOCK_DUAL_LUMEN)
#define GUIDE (1u << BK_STOCK_GUIDE)
#define EXTENSION (1u << BK_STOCK_EXTENSION)
#define ALL ((1u << BK_STOCK_KINDS) - 1)

enum column { KIND, ID, NAME, CLASS, NOMINAL, LENGTHS, TABLE, STANDING, NOTE, NUMBERS };

typedef struct column_rule {
    const char *name;
    unsigned needed, allowed; /* for which kinds */
    double min, max;          /* of its numbers */
    size_t offset;            /* of a single number */
} column_rule;

#define NUMBER(member) offsetof(bk_stock_item, member)
/* Ranges are wide enough for any coronary device; they catch slips of the unit. */
static const column_rule rules[] = {
    [KIND] = {"kind", ALL, ALL, 0, 0, 0},
    [ID] = {"id", ALL, ALL, 0, 0, 0},
    [NAME] = {"name", 0, ALL, 0, 0, 0},
    [CLASS] = {"class", STENT | BALLOON | WIRE, STENT | BALLOON | WIRE, 0, 0, 0},
    [NOMINAL] = {"nominal_mm", STENT | BALLOON, STENT | BALLOON, 0.75, 7, 0},
    [LENGTHS] = {"length_mm", STENT | BALLOON, STENT | BALLOON, 4, 80, 0},
    [TABLE] = {"table", 0, STENT | BALLOON, 0, 0, 0},
    [STANDING] = {"standing", 0, ALL, 0, 0, 0},
    [NOTE] = {"note", 0, ALL, 0, 0, 0},
    [NUMBERS] = {"maximum_mm", 0, STENT, 1, 9, NUMBER(maximum_mm)},
    {"recoil_pct", 0, STENT, 0, 25, NUMBER(recoil_pct)},
    {"nominal_atm", 0, STENT | BALLOON, 2, 30, NUMBER(nominal_atm)},
    {"rated_atm", BALLOON, STENT | BALLOON, 4, 45, NUMBER(rated_atm)},
    {"growth_pct_atm", 0, STENT | BALLOON, 0, 4, NUMBER(growth_pct_atm)},
    {"front_mm", 0, STENT | BALLOON | CATHETER, 0.3, 3, NUMBER(front_mm)},
    {"distal_mm", 0, STENT | BALLOON | CATHETER, 0.3, 3, NUMBER(distal_mm)},
    {"proximal_mm", 0, STENT | BALLOON | CATHETER, 0.3, 3, NUMBER(proximal_mm)},
    {"tip_load_g", 0, WIRE, 0.1, 50, NUMBER(tip_load_g)},
    {"inner_mm", 0, GUIDE | EXTENSION, 0.8, 4, NUMBER(inner_mm)},
    {"french", GUIDE | EXTENSION, GUIDE | EXTENSION, 4, 10, NUMBER(french)},
    {"length_cm", 0, WIRE | CATHETER | GUIDE | EXTENSION, 20, 400, NUMBER(length_cm)},
};
#define COLUMNS (sizeof rules / sizeof rules[0])

typedef struct row {
    const char *cell[COLUMNS]; /* "" where the list has no such column */
    int line;
} row;

typedef struct reader {
    bk_csv csv;
    int column[COLUMNS]; /* in the file; -1: not there */
    size_t columns;
} reader;

static bk_status read_header(reader *r, bk_err *err)
{
    const char *cells[COLUMNS + 1];
    bk_status status = bk_csv_next(&r->csv, cells, COLUMNS + 1, &r->columns, err);
    for (size_t i = 0; i < COLUMNS; i++)
        r->column[i] = -1;
    for (size_t k = 0; status == BK_OK && k < r->columns; k++) {
        bk_nearest best = {0};
        size_t found = COLUMNS;
        for (size_t i = 0; i < COLUMNS; i++) {
            bk_nearest_offer(&best, cells[k], rules[i].name);
            if (strcmp(cells[k], rules[i].name) == 0)
                found = i;
        }
        if (found == COLUMNS)
            status = bk_fail(err, BK_E_DATA, "line %d: column \"%s\" is unknown, the nearest known one is %s",
                             r->csv.line, cells[k], best.word);
        else if (r->column[found] >= 0)
            status = bk_fail(err, BK_E_DATA, "line %d: column %s was found twice", r->csv.line, cells[k]);
        else
            r->column[found] = (int)k;
    }
    if (status == BK_OK && (r->column[KIND] < 0 || r->column[ID] < 0))
        status = bk_fail(err, BK_E_DATA, "line %d: columns kind and id were expected in the first line",
                         r->csv.line ? r->csv.line : 1);
    return status;
}

/* *more is false at the end. */
static bk_status next_row(reader *r, row *out, bool *more, bk_err *err)
{
    const char *cells[COLUMNS + 1];
    size_t n;
    const bk_status status = bk_csv_next(&r->csv, cells, COLUMNS + 1, &n, err);
    *more = status == BK_OK && n > 0;
    if (!*more)
        return status;
    if (n != r->columns)
        return bk_fail(err, BK_E_DATA,
                       "line %d: %zu cells were found, %zu as in the first line were expected", r->csv.line,
                       n, r->columns);
    out->line = r->csv.line;
    for (size_t i = 0; i < COLUMNS; i++)
        out->cell[i] = r->column[i] < 0 ? "" : cells[r->column[i]];
    return BK_OK;
}

static bk_status bad_number(const row *at, const column_rule *rule, const char *text, int length, bk_err *err)
{
    return bk_fail(err, BK_E_DATA, "line %d: %s \"%.*s\" was found, %g to %g was expected", at->line,
                   rule->name, length, text, rule->min, rule->max);
}

static bool in_range(const column_rule *rule, double value)
{
    return value >= rule->min && value <= rule->max;
}

/* "2.5 2.75 3.0" */
static bk_status read_sizes(const row *at, enum column which, bk_stock_sizes *out, bk_err *err)
{
    for (const char *text = at->cell[which]; *text;) {
        const size_t blanks = strspn(text, " "), n = strcspn(text + blanks, " ");
        text += blanks;
        if (n == 0)
            break;
        if (out->n == BK_STOCK_SIZES)
            return bk_fail(err, BK_E_DATA, "line %d: more than %d sizes were found in %s", at->line,
                           BK_STOCK_SIZES, rules[which].name);
        double value;
        if (!bk_number_read(text, n, &value) || !in_range(&rules[which], value))
            return bad_number(at, &rules[which], text, (int)n, err);
        if (out->n > 0 && value <= out->v[out->n - 1])
            return bk_fail(err, BK_E_DATA, "line %d: %s %g was found behind %g, rising sizes were expected",
                           at->line, rules[which].name, value, out->v[out->n - 1]);
        out->v[out->n++] = value;
        text += n;
    }
    return BK_OK;
}

/* "8:3.00 10:3.05": atm and mm */
static bk_status read_table(const row *at, bk_stock_item *item, bk_err *err)
{
    for (const char *text = at->cell[TABLE]; *text;) {
        const size_t blanks = strspn(text, " "), n = strcspn(text + blanks, " ");
        text += blanks;
        if (n == 0)
            break;
        const char *colon = memchr(text, ':', n);
        double atm, mm;
        if (!colon || !bk_number_read(text, (size_t)(colon - text), &atm) ||
            !bk_number_read(colon + 1, n - (size_t)(colon - text) - 1, &mm))
            return bk_fail(err, BK_E_DATA, "line %d: table \"%.*s\" was found, ATM:MM was expected", at->line,
                           (int)n, text);
        const size_t k = item->table_atm.n;
        if (k == BK_STOCK_SIZES)
            return bk_fail(err, BK_E_DATA, "line %d: more than %d pairs were found in the table", at->line,
                           BK_STOCK_SIZES);
        if (k > 0 && (atm <= item->table_atm.v[k - 1] || mm < item->table_mm.v[k - 1]))
            return bk_fail(
                err, BK_E_DATA,
                "line %d: table %g:%g was found behind %g:%g, rising pressures and diameters were expected",
                at->line, atm, mm, item->table_atm.v[k - 1], item->table_mm.v[k - 1]);
        if (!(atm > 0 && atm <= 45 && mm >= 0.7 * item->nominal_mm.v[0] && mm <= 1.5 * item->nominal_mm.v[0]))
            return bk_fail(err, BK_E_DATA,
                           "line %d: table %g:%g was found, 0 to 45 atm and a diameter near the nominal %g "
                           "mm were expected",
                           at->line, atm, mm, item->nominal_mm.v[0]);
        item->table_atm.v[k] = atm;
        item->table_mm.v[k] = mm;
        item->table_atm.n = item->table_mm.n = k + 1;
        text += n;
    }
    return BK_OK;
}

static bk_status find_kind(const row *at, bk_stock_item *item, bk_err *err)
{
    bk_nearest best = {0};
    for (int k = 0; k < BK_STOCK_KINDS; k++) {
        bk_nearest_offer(&best, at->cell[KIND], bk_stock_kind_names[k]);
        if (strcmp(at->cell[KIND], bk_stock_kind_names[k]) == 0) {
            item->kind = (bk_stock_kind)k;
            return BK_OK;
        }
    }
    return bk_fail(err, BK_E_DATA, "line %d: kind \"%s\" is unknown, the nearest known one is %s", at->line,
                   at->cell[KIND], best.word);
}

static bk_status find_class(const row *at, bk_stock_item *item, bk_err *err)
{
    static const bk_stock_class from[] = {BK_CLASS_SMALL, BK_CLASS_SEMI, BK_CLASS_NON_JACKETED, BK_CLASSES};
    bk_nearest best = {0};
    if (!at->cell[CLASS][0])
        return BK_OK;
    for (bk_stock_class c = from[item->kind]; c < from[item->kind + 1]; c++) {
        bk_nearest_offer(&best, at->cell[CLASS], bk_stock_class_names[c]);
        if (strcmp(at->cell[CLASS], bk_stock_class_names[c]) == 0) {
            item->cls = c;
            return BK_OK;
        }
    }
    return bk_fail(err, BK_E_DATA, "line %d: class \"%s\" of a %s is unknown, the nearest known one is %s",
                   at->line, at->cell[CLASS], bk_stock_kind_names[item->kind], best.word);
}

static bk_status check_cells(const row *at, bk_stock_kind kind, bk_err *err)
{
    for (size_t i = 0; i < COLUMNS; i++) {
        if (!at->cell[i][0] && rules[i].needed >> kind & 1)
            return bk_fail(err, BK_E_DATA, "line %d: %s of a %s is empty", at->line, rules[i].name,
                           bk_stock_kind_names[kind]);
        if (at->cell[i][0] && !(rules[i].allowed >> kind & 1))
            return bk_fail(err, BK_E_DATA, "line %d: %s \"%s\" was found, nothing was expected for a %s",
                           at->line, rules[i].name, at->cell[i], bk_stock_kind_names[kind]);
    }
    return BK_OK;
}

static bk_status read_numbers(const row *at, bk_stock_item *item, bk_err *err)
{
    for (size_t i = NUMBERS; i < COLUMNS; i++) {
        double *to = (double *)(void *)((char *)item + rules[i].offset);
        const char *text = at->cell[i];
        *to = (double)NAN;
        if (*text && (!bk_number_read(text, strlen(text), to) || !in_range(&rules[i], *to)))
            return bad_number(at, &rules[i], text, (int)strlen(text), err);
    }
    return BK_OK;
}

static bk_status read_standing(const row *at, bk_stock_item *item, bk_err *err)
{
    static const char *const known[] = {"seen", "memory", "common practice", "invented", "entered"};
    item->standing = at->cell[STANDING][0] ? at->cell[STANDING] : "entered";
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (strcmp(item->standing, known[i]) == 0)
            return BK_OK;
    return bk_fail(
        err, BK_E_DATA,
        "line %d: standing \"%s\" was found, seen, memory, common practice, invented or entered was expected",
        at->line, item->standing);
}

/* What only holds between the cells of a row. */
static bk_status check_together(const row *at, const bk_stock_item *item, bk_err *err)
{
    const double largest = item->nominal_mm.n ? item->nominal_mm.v[item->nominal_mm.n - 1] : 0;
    if (item->maximum_mm < largest)
        return bk_fail(err, BK_E_DATA,
                       "line %d: maximum_mm %g was found, at least the largest nominal size %g was expected",
                       at->line, item->maximum_mm, largest);
    if (item->rated_atm < item->nominal_atm)
        return bk_fail(err, BK_E_DATA,
                       "line %d: rated_atm %g was found, at least nominal_atm %g was expected", at->line,
                       item->rated_atm, item->nominal_atm);
    if (item->inner_mm >= item->french / 3)
        return bk_fail(err, BK_E_DATA,
                       "line %d: inner_mm %g was found, less than the outer %g mm of %g F was expected",
                       at->line, item->inner_mm, item->french / 3, item->french);
    if (at->cell[TABLE][0] && (item->nominal_mm.n != 1 || isnan(item->rated_atm)))
        return bk_fail(err, BK_E_DATA,
                       "line %d: a table was found, one nominal size and rated_atm were expected with it",
                       at->line);
    return BK_OK;
}

static bk_status read_row(const row *at, bk_stock_item *item, bk_err *err)
{
    static const char letters[] = "abcdefghijklmnopqrstuvwxyz0123456789_";
    *item = (bk_stock_item){.id = at->cell[ID],
                            .name = at->cell[NAME][0] ? at->cell[NAME] : at->cell[ID],
                            .note = at->cell[NOTE]};
    bk_status status = find_kind(at, item, err);
    if (status == BK_OK)
        status = check_cells(at, item->kind, err);
    if (status == BK_OK && strspn(item->id, letters) != strlen(item->id))
        status = bk_fail(err, BK_E_DATA,
                         "line %d: id \"%s\" was found, lower-case letters, digits and _ were expected",
                         at->line, item->id);
    if (status == BK_OK)
        status = find_class(at, item, err);
    if (status == BK_OK)
        status = read_sizes(at, NOMINAL, &item->nominal_mm, err);
    if (status == BK_OK)
        status = read_sizes(at, LENGTHS, &item->length_mm, err);
    if (status == BK_OK)
        status = read_numbers(at, item, err);
    if (status == BK_OK)
        status = read_standing(at, item, err);
    if (status == BK_OK)
        status = check_together(at, item, err);
    return status == BK_OK ? read_table(at, item, err) : status;
}

static bk_status check_id(const bk_stock_item *items, size_t n, int line, bk_err *err)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(items[i].id, items[n].id) == 0)
            return bk_fail(err, BK_E_DATA, "line %d: id %s was given before", line, items[n].id);
    return BK_OK;
}

static size_t count_lines(const char *text, size_t n)
{
    size_t lines = 1;
    for (size_t i = 0; i < n; i++)
        lines += text[i] == '\n';
    return lines;
}

bk_status bk_stock_read(char *text, size_t n, bk_arena *arena, bk_stock *out, bk_err *err)
{
    const size_t lines = count_lines(text, n), room = lines < BK_STOCK_ITEMS_MAX ? lines : BK_STOCK_ITEMS_MAX;
    bk_stock_item *items = BK_NEW(arena, room, bk_stock_item, err);
    reader r;
    *out = (bk_stock){.name = "", .items = items};
    bk_csv_start(&r.csv, text, n);
    bk_status status = items ? read_header(&r, err) : err->status;
    for (bool more = true; status == BK_OK && more;) {
        row at;
        status = next_row(&r, &at, &more, err);
        if (status != BK_OK || !more)
            break;
        if (out->n == room)
            return bk_fail(err, BK_E_LIMIT, "line %d: more than %d designs were found", at.line,
                           BK_STOCK_ITEMS_MAX);
        status = read_row(&at, &items[out->n], err);
        if (status == BK_OK)
            status = check_id(items, out->n, at.line, err);
        out->n += status == BK_OK;
    }
    if (status == BK_OK && out->n == 0)
        status = bk_fail(err, BK_E_DATA, "line %d: no designs were found, at least one was expected",
                         r.csv.line ? r.csv.line : 1);
    return status;
}
