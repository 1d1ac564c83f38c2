/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <locale.h>
#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/file.h"
#include "base/json.h"
#include "base/nearest.h"
#include "base/number.h"
#include "base/random.h"

static void test_status__first_failure_wins(void **state)
{
    (void)state;
    bk_err err = {0};
    assert_int_equal(bk_fail(&err, BK_E_DATA, "found %d\n", 3), BK_E_DATA);
    assert_int_equal(bk_fail(&err, BK_E_IO, "later"), BK_E_DATA);
    assert_string_equal(err.message, "found 3?");
    bk_fail_in(&err, "frame 2");
    assert_string_equal(err.message, "frame 2: found 3?");
    assert_int_equal(bk_fail(NULL, BK_E_IO, "no place for text"), BK_E_IO);
}

static void test_arena__caps_rewinds_and_zeroes(void **state)
{
    (void)state;
    bk_arena arena;
    bk_err err = {0};
    bk_arena_init(&arena, 1 << 20);
    double *a = BK_NEW(&arena, 100, double, &err);
    assert_non_null(a);
    a[0] = 5;
    const bk_arena_mark mark = bk_arena_take_mark(&arena);
    double *b = BK_NEW(&arena, 50000, double, &err);
    assert_non_null(b);
    memset(b, 1, 50000 * sizeof *b);
    bk_arena_rewind(&arena, mark);
    b = BK_NEW(&arena, 50000, double, &err);
    assert_non_null(b);
    assert_true(b[0] == 0 && b[49999] == 0 && a[0] == 5);
    assert_null(BK_NEW(&arena, 1 << 20, double, &err));
    assert_int_equal(err.status, BK_E_LIMIT);
    assert_null(bk_arena_alloc(&arena, SIZE_MAX / 2, 4, NULL));
    assert_null(bk_arena_alloc(&arena, SIZE_MAX - 8, 1, NULL));
    bk_arena_clear(&arena);
}

static void test_number__reads_only_plain_decimals(void **state)
{
    (void)state;
    const char *bad[] = {"", " ", ".", "-", "1e", "1e+", "0x10", "inf", "nan", "1,5", "1 2", "1e999", "--1"};
    double v;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_false(bk_number_read(bad[i], strlen(bad[i]), &v));
    assert_true(bk_number_read(" -1.25e2 ", 9, &v) && v == -125);
    assert_true(bk_number_read(".5", 2, &v) && v == 0.5);
    int64_t n;
    assert_true(bk_integer_read("-42", 3, &n) && n == -42);
    assert_false(bk_integer_read("4.0", 3, &n));
    assert_false(bk_integer_read("99999999999999999999", 20, &n));
}

static void test_number__prints_shortest_and_reads_back(void **state)
{
    (void)state;
    bk_random random;
    bk_random_seed(&random, 7);
    char text[BK_NUMBER_TEXT];
    assert_string_equal(bk_number_print(text, 0.1), "0.1");
    assert_string_equal(bk_number_print(text, -0.0), "0");
    assert_string_equal(bk_number_fixed(text, -0.001, 2), "0.00");
    for (int i = 0; i < 2000; i++) {
        const double value = bk_random_normal(&random) * pow(10, bk_random_between(&random, -20, 20));
        double back;
        bk_number_print(text, value);
        assert_true(bk_number_read(text, strlen(text), &back) && back == value);
    }
}

static void test_random__has_the_right_moments(void **state)
{
    (void)state;
    bk_random random;
    bk_random_seed(&random, 1);
    const double means[] = {0.5, 20, 400};
    for (size_t k = 0; k < 3; k++) {
        const int n = 40000;
        double sum = 0, sum2 = 0;
        for (int i = 0; i < n; i++) {
            const double x = bk_random_poisson(&random, means[k]);
            sum += x;
            sum2 += x * x;
        }
        const double mean = sum / n, variance = sum2 / n - mean * mean;
        assert_near(mean, means[k], 4 * sqrt(means[k] / n));        /* Poisson: mean = variance (textbook) */
        assert_near(variance / means[k], 1, 4 * sqrt(2.2 / n) + 0.01);
    }
    assert_near(bk_random_unit(&random), 0.5, 0.5);
}

static void test_json__writes_what_it_reads(void **state)
{
    (void)state;
    bk_err err = {0};
    bk_json *value;
    const char text[] = "{\"b\": 1.5, \"a\": [[1, 2], [3, 4]], \"t\": \"x\\\"\\u0001\", \"n\": null}";
    assert_int_equal(bk_json_read(text, strlen(text), &value, &err), BK_OK);
    char *first, *second;
    size_t n1, n2;
    assert_int_equal(bk_json_write(value, &first, &n1, &err), BK_OK);
    bk_json_free(value);
    assert_int_equal(bk_json_read(first, n1, &value, &err), BK_OK);
    assert_int_equal(bk_json_write(value, &second, &n2, &err), BK_OK);
    assert_string_equal(first, second);
    assert_near(bk_json_number(bk_json_path(value, "a.1.0")), 3, 0);
    assert_null(bk_json_path(value, "a.7"));
    bk_json_free(value);
    bk_json_text_free(first);
    bk_json_text_free(second);
    assert_int_equal(bk_json_read("{\"a\":1,\"a\":2}", 13, &value, &err), BK_E_DATA);
    assert_null(value);
}

static void test_file__write_is_all_or_nothing(void **state)
{
    (void)state;
    bk_err err = {0};
    assert_int_equal(bk_file_write("/nonexistent/x", "a", 1, &err), BK_E_IO);
    char hash[65];
    bk_sha256("abc", 3, hash); /* FIPS 180-4 example, from memory */
    assert_string_equal(hash, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    char *bytes;
    size_t n;
    err = (bk_err){0};
    assert_int_equal(bk_file_read("/", 10, &bytes, &n, &err), BK_E_IO);
    assert_non_null(strstr(err.message, "folder"));
}

static void test_nearest__finds_the_typo(void **state)
{
    (void)state;
    assert_int_equal(bk_edit_distance("kitten", "sitting"), 3); /* the textbook example */
    bk_nearest best = {0};
    bk_nearest_offer(&best, "diabtes", "dialysis");
    bk_nearest_offer(&best, "diabtes", "diabetes");
    assert_string_equal(best.word, "diabetes");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_status__first_failure_wins),
        cmocka_unit_test(test_arena__caps_rewinds_and_zeroes),
        cmocka_unit_test(test_number__reads_only_plain_decimals),
        cmocka_unit_test(test_number__prints_shortest_and_reads_back),
        cmocka_unit_test(test_random__has_the_right_moments),
        cmocka_unit_test(test_json__writes_what_it_reads),
        cmocka_unit_test(test_file__write_is_all_or_nothing),
        cmocka_unit_test(test_nearest__finds_the_typo),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
