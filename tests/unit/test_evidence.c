/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <string.h>

#include "base/csv.h"
#include "base/evidence.h"

/* ---- RFC 4180 ---- */

static void test_csv__reads_the_forms_of_rfc_4180(void **state)
{
    (void)state;
    /* the examples of RFC 4180 section 2, rules 1 to 7, in one text */
    char text[] = "\xef\xbb\xbf"
                  "aaa,bbb,ccc\r\n\r\n\"aaa\",\"b\r\nbb\",\"c,c\"\nzzz,\"b\"\"bb\",\n,";
    bk_csv csv;
    const char *cells[4];
    size_t n;
    bk_csv_start(&csv, text, strlen(text));
    assert_int_equal(bk_csv_next(&csv, cells, 4, &n, NULL), BK_OK);
    assert_int_equal(n, 3);
    assert_string_equal(cells[0], "aaa");
    assert_string_equal(cells[2], "ccc");
    assert_int_equal(bk_csv_next(&csv, cells, 4, &n, NULL), BK_OK);
    assert_int_equal(csv.line, 3);
    assert_string_equal(cells[1], "b\r\nbb");
    assert_string_equal(cells[2], "c,c");
    assert_int_equal(bk_csv_next(&csv, cells, 4, &n, NULL), BK_OK);
    assert_int_equal(csv.line, 5);
    assert_string_equal(cells[1], "b\"bb");
    assert_string_equal(cells[2], "");
    assert_int_equal(bk_csv_next(&csv, cells, 4, &n, NULL), BK_OK);
    assert_int_equal(n, 2);
    assert_string_equal(cells[1], "");
    assert_int_equal(bk_csv_next(&csv, cells, 4, &n, NULL), BK_OK);
    assert_int_equal(n, 0);
}

static void test_csv__refuses_broken_text(void **state)
{
    (void)state;
    const char *const broken[] = {"a\"b,c", "\"a\"b,c", "\"a,b", "a,b,c,d,e", "x,\""};
    for (size_t i = 0; i < sizeof broken / sizeof broken[0]; i++) {
        char text[32];
        bk_csv csv;
        bk_err err = {0};
        const char *cells[4];
        size_t n;
        strcpy(text, broken[i]); // allow: fixed texts above
        bk_csv_start(&csv, text, strlen(text));
        assert_int_equal(bk_csv_next(&csv, cells, 4, &n, &err), BK_E_DATA);
        assert_memory_equal(err.message, "line 1:", 7);
    }
}

/* ---- rows ---- */

static const char *const header_cells[] = {"id",     "topic", "name",     "value",  "sd",
                                           "low",    "high",  "interval", "unit",   "text",
                                           "source", "doi",   "standing", "checked"};
enum { N = sizeof header_cells / sizeof header_cells[0] };

static bk_status read_row(const char *const *cells, bk_evidence *row, bk_err *err)
{
    bk_evidence_header header;
    *err = (bk_err){0};
    assert_int_equal(bk_evidence_read_header(header_cells, N, &header, err), BK_OK);
    return bk_evidence_read_row(&header, cells, N, row, err);
}

static void test_evidence__checks_each_row(void **state)
{
    (void)state;
    const char *const good[N] = {"x_1",   "t",  "n",    "2",   "0.5",       "1",    "3",
                                 "range", "mm", "text", "src", "10.1000/x", "seen", "2026-11-25"};
    static const struct {
        int cell;
        const char *text, *message;
    } bad[] = {
        {0, "X-1", "id \"X-1\" was found, lower-case letters, digits and _ were expected"},
        {8, "", "the unit is empty"},
        {10, "", "the source is empty"},
        {3, "two", "value \"two\" was found, a number was expected"},
        {3, "9", "value 9, low 1, high 3 were found, low <= value <= high was expected"},
        {6, "", "low, high and interval were expected all three or none"},
        {8, "none", "unit \"none\" was found, the unit of the numbers was expected"},
        {12, "sure", "standing \"sure\" was found, seen, memory or common practice was expected"},
        {13, "", "checked \"\" was found, a day as 2026-11-25 was expected"},
        {11, "doi:10.1", "doi \"doi:10.1\" was found, one that begins with 10. was expected"},
    };
    bk_evidence row;
    bk_err err;
    assert_int_equal(read_row(good, &row, &err), BK_OK);
    assert_true(row.value == 2 && row.sd == 0.5 && row.standing == BK_SEEN && !row.population[0]);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        const char *cells[N];
        memcpy(cells, good, sizeof cells);
        cells[bad[i].cell] = bad[i].text;
        assert_int_equal(read_row(cells, &row, &err), BK_E_DATA);
        assert_string_equal(err.message, bad[i].message);
    }
}

static void test_evidence__checks_the_header(void **state)
{
    (void)state;
    bk_evidence_header header;
    bk_err err = {0};
    const char *const typo[] = {"id", "topic", "name", "unit", "text", "sorce", "standing"};
    assert_int_equal(bk_evidence_read_header(typo, 7, &header, &err), BK_E_DATA);
    assert_string_equal(err.message, "column \"sorce\" is unknown, the nearest known one is source");
    err = (bk_err){0};
    const char *const lacking[] = {"id", "topic", "name", "unit", "text", "standing"};
    assert_int_equal(bk_evidence_read_header(lacking, 6, &header, &err), BK_E_DATA);
    assert_string_equal(err.message, "column \"source\" is missing");
}

static void test_evidence__built_in_rows_can_be_found(void **state)
{
    (void)state;
    const bk_evidence_set *set = bk_evidence_builtin();
    assert_true(set->n > 50);
    for (size_t i = 0; i < set->n; i++)
        assert_ptr_equal(bk_evidence_find(set, set->rows[i].id), &set->rows[i]); /* ids are unique */
    assert_null(bk_evidence_find(set, "no_such_row"));
    const bk_evidence *row = bk_evidence_find(set, "law_fractal");
    assert_near(row->value, 0.678, 0); /* Finet 2007, as printed */
    assert_int_equal(row->standing, BK_SEEN);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_csv__reads_the_forms_of_rfc_4180),
        cmocka_unit_test(test_csv__refuses_broken_text),
        cmocka_unit_test(test_evidence__checks_each_row),
        cmocka_unit_test(test_evidence__checks_the_header),
        cmocka_unit_test(test_evidence__built_in_rows_can_be_found),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
