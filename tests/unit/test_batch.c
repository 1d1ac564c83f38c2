/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Worker processes and the CSV they write. */
#include "support/check.h"

#include <signal.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "app/workers.h"
#include "base/csv.h"

typedef struct log {
    int next, faults;
    size_t bytes;
    char fault[64]; /* the last one */
    int stop_at;    /* item at which done fails; -1: never */
} log_of;

/* Item 3 crashes, item 5 leaves, item 7 is long, and low numbers take longest. */
static size_t work_item(void *context, int item, char *out)
{
    (void)context;
    if (item < 3)
        nanosleep(&(struct timespec){0, 20000000L * (3 - item)}, NULL);
    if (item == 3) {
        signal(SIGSEGV, SIG_DFL); /* a sanitizer would catch it */
        raise(SIGSEGV);
    }
    if (item == 5)
        _exit(9);
    const size_t n = item == 7 ? BK_WORK_ROOM : 1;
    memset(out, 'a' + item % 26, n);
    return n;
}

static bk_status item_done(void *context, int item, const char *bytes, size_t n, const char *fault, bk_err *err)
{
    log_of *log = context;
    assert_int_equal(item, log->next++);
    if (item == log->stop_at)
        return bk_fail(err, BK_E_IO, "enough");
    log->bytes += n;
    if (fault) {
        log->faults++;
        assert_int_equal(n, 0);
        snprintf(log->fault, sizeof log->fault, "%s", fault);
    } else {
        assert_int_equal(bytes[n - 1], 'a' + item % 26);
    }
    if (item == 3)
        assert_string_equal(fault, "its process was ended by signal 11");
    if (item == 5)
        assert_string_equal(fault, "its process ended with code 9");
    return BK_OK;
}

static void test_workers__answer_in_order_and_survive_a_crash(void **state)
{
    (void)state;
    static const int jobs[] = {1, 2, 4, 40};
    for (size_t i = 0; i < sizeof jobs / sizeof jobs[0]; i++) {
        log_of log = {.stop_at = -1};
        bk_err err = {0};
        const bk_work work = {30, jobs[i], &log, work_item, item_done};
        assert_int_equal(bk_work_run(&work, &err), BK_OK);
        assert_int_equal(log.next, 30);
        assert_int_equal(log.faults, 2);
        assert_int_equal(log.bytes, 27 + BK_WORK_ROOM);
    }
}

static void test_workers__stop_when_the_answer_cannot_be_passed_on(void **state)
{
    (void)state;
    log_of log = {.stop_at = 1};
    bk_err err = {0};
    const bk_work work = {30, 4, &log, work_item, item_done};
    assert_int_equal(bk_work_run(&work, &err), BK_E_IO);
    assert_string_equal(err.message, "enough");
    const bk_work nothing = {0, 1, &log, work_item, item_done};
    assert_int_equal(bk_work_run(&nothing, &err), BK_OK);
    assert_true(bk_work_processors() >= 1);
}

static void test_csv__what_is_written_is_read_again(void **state)
{
    (void)state;
    static const char *const cells[] = {"plain", "", "a,b", "say \"no\"", "two\nlines", "cr\rhere", " blank "};
    char text[256];
    bk_csv_line line;
    bk_csv_line_start(&line, text, sizeof text);
    for (size_t i = 0; i < 7; i++)
        bk_csv_line_add(&line, cells[i]);
    bk_csv_line_end(&line);
    assert_false(line.cut);
    assert_string_equal(text, "plain,,\"a,b\",\"say \"\"no\"\"\",\"two\nlines\",\"cr\rhere\", blank \n");
    bk_csv csv;
    const char *back[8];
    size_t n;
    bk_err err = {0};
    bk_csv_start(&csv, text, line.n);
    assert_int_equal(bk_csv_next(&csv, back, 8, &n, &err), BK_OK);
    assert_int_equal(n, 7);
    for (size_t i = 0; i < 7; i++)
        assert_string_equal(back[i], cells[i]);
    char small[6];
    bk_csv_line_start(&line, small, sizeof small);
    bk_csv_line_add(&line, "longer than that");
    assert_true(line.cut);
    assert_string_equal(small, "longe");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_workers__answer_in_order_and_survive_a_crash),
        cmocka_unit_test(test_workers__stop_when_the_answer_cannot_be_passed_on),
        cmocka_unit_test(test_csv__what_is_written_is_read_again),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
