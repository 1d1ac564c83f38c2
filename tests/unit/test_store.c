/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The store alone: texts in, the same texts out; what it does when something fails. Documents here are plain
 * texts. */
#define _GNU_SOURCE /* memmem */
#include "support/check.h"

#include <fcntl.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/file.h"
#include "base/format.h"
#include "base/random.h"
#include "store/archive_file.h"
#include "store/store.h"

#define AT "2026-01-01T00:00:00Z"

static char folder[64], file[96]; /* of the store; of its database */

static int make_folder(void **state)
{
    (void)state;
    snprintf(folder, sizeof folder, "/tmp/bk_store_XXXXXX");
    if (!mkdtemp(folder))
        return -1;
    snprintf(file, sizeof file, "%s/%s", folder, bk_store_database);
    return 0;
}

static int remove_all(void **state)
{
    (void)state;
    char command[96];
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command);
}

static bk_store *open_store(void)
{
    bk_store *store = NULL;
    bk_err err = {0};
    if (bk_store_open(folder, &store, &err) != BK_OK)
        fail_msg("%s", err.message);
    return store;
}

static bk_status try_save(bk_store *store, const char *id, int based_on, const char *text, bool *conflict,
                          bk_err *err)
{
    const bk_store_entry entry = {id, based_on, AT, "{}", text, NULL, 0};
    return bk_store_save(store, &entry, conflict, err);
}

static void save(bk_store *store, const char *id, int based_on, const char *text)
{
    bool conflict;
    bk_err err = {0};
    if (try_save(store, id, based_on, text, &conflict, &err) != BK_OK || conflict)
        fail_msg("%s %d: %s", id, based_on, conflict ? "conflict" : err.message);
}

static bk_status copy_text(void *context, const bk_store_row *row, bk_err *err)
{
    (void)err;
    snprintf(context, 200, "%d:%d:%s", row->revision, row->based_on,
             row->document ? row->document : row->case_id);
    return BK_OK;
}

/* "revision:based_on:document", or the message of the failure. */
static const char *load(bk_store *store, const char *id, int revision)
{
    static char text[400];
    bk_err err = {0};
    if (bk_store_load(store, id, revision, copy_text, text, &err) != BK_OK)
        snprintf(text, sizeof text, "%s", err.message);
    return text;
}

static bk_status append_id(void *context, const bk_store_row *row, bk_err *err)
{
    (void)err;
    char *text = context;
    snprintf(text + strlen(text), 200 - strlen(text), "%s@%d ", row->case_id, row->revision);
    return BK_OK;
}

static const char *list(bk_store *store, bool all)
{
    static char text[200];
    bk_err err = {0};
    text[0] = '\0';
    if (bk_store_list(store, all, append_id, text, &err) != BK_OK)
        fail_msg("%s", err.message);
    return text;
}

static void count_problem(void *context, const char *text)
{
    if (getenv("BK_SHOW"))
        print_message("problem: %s\n", text);
    ++*(int *)context;
}

static int problems(bk_store *store)
{
    int n = 0;
    bk_err err = {0};
    bk_store_check check = {.problem = count_problem, .context = &n};
    return bk_store_verify(store, &check, &err) == BK_OK ? n : n + 1000;
}

static void sql(const char *text)
{
    sqlite3 *db = NULL;
    char *message = NULL;
    assert_int_equal(sqlite3_open(file, &db), SQLITE_OK);
    if (sqlite3_exec(db, text, NULL, NULL, &message) != SQLITE_OK)
        fail_msg("%s: %s", text, message);
    sqlite3_close(db);
}

static void write_file(const char *name, const char *text)
{
    bk_err err = {0};
    assert_int_equal(bk_file_write(name, text, strlen(text), &err), BK_OK);
}

static bk_status look(const char *path, char **summary, bk_err *err)
{
    char *text;
    size_t n;
    const bk_status status = bk_file_read(path, 1000000, &text, &n, err);
    if (status != BK_OK)
        return status;
    const bool bad = strncmp(text, "bad", 3) == 0;
    free(text);
    if (bad)
        return bk_fail(err, BK_E_DATA, "bad was found, good was expected");
    *summary = strdup("{}");
    return BK_OK;
}

/* ---- cases ---- */

static void test_store__keeps_every_revision(void **state)
{
    (void)state;
    bk_store *store = open_store();
    save(store, "a", 0, "one");
    save(store, "b", 0, "other");
    save(store, "a", 1, "two \xc3\xa4");
    assert_string_equal(load(store, "a", 0), "2:1:two \xc3\xa4");
    assert_string_equal(load(store, "a", 1), "1:0:one");
    assert_string_equal(list(store, false), "a@2 b@1 "); /* last saved first */
    assert_string_equal(load(store, "a", 3), "revision 3 of case \"a\" was not found, 1 to 2 was expected");
    assert_string_equal(load(store, "c", 0), "case \"c\" was not found, the id of a kept case was expected");
    assert_int_equal(problems(store), 0);
    bk_store_close(store);
    store = open_store();
    assert_string_equal(load(store, "a", 0), "2:1:two \xc3\xa4");
    bk_store_close(store);
}

static void test_store__the_later_writer_gets_a_conflict(void **state)
{
    (void)state;
    bool conflict;
    bk_err err = {0};
    bk_store *one = open_store(), *two = open_store();
    save(one, "a", 0, "first");
    save(two, "a", 1, "second");
    assert_int_equal(try_save(one, "a", 1, "late", &conflict, &err), BK_OK);
    assert_true(conflict);
    assert_int_equal(try_save(one, "a", 0, "new?", &conflict, &err), BK_OK);
    assert_true(conflict);
    assert_string_equal(load(one, "a", 0), "2:1:second");
    assert_int_equal(try_save(one, "a", 3, "from nowhere", &conflict, &err), BK_E_NOTHING);
    bk_store_close(one);
    bk_store_close(two);
}

static void test_store__the_database_refuses_to_change_a_revision(void **state)
{
    (void)state;
    bk_store *store = open_store();
    save(store, "a", 0, "one");
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(file, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "UPDATE revisions SET document = 'x'", NULL, NULL, NULL),
                     SQLITE_CONSTRAINT);
    sqlite3_close(db);
    assert_string_equal(load(store, "a", 0), "1:0:one");
    bk_store_close(store);
}

static void test_store__odd_entries_are_refused(void **state)
{
    (void)state;
    bool conflict;
    bk_err err = {0};
    bk_store *store = open_store();
    assert_int_equal(try_save(store, "", 0, "x", &conflict, &err), BK_E_DATA);
    err = (bk_err){0};
    assert_int_equal(
        try_save(store, "123456789012345678901234567890123456789012345678", 0, "x", &conflict, &err),
        BK_E_DATA);
    err = (bk_err){0};
    assert_int_equal(try_save(store, "a", -1, "x", &conflict, &err), BK_E_USAGE);
    save(store, "'; DROP TABLE cases; --", 0, "x");
    assert_string_equal(list(store, false), "'; DROP TABLE cases; --@1 ");
    bk_store_close(store);
}

static void test_store__removed_and_back_and_gone(void **state)
{
    (void)state;
    int cines;
    bool conflict;
    bk_err err = {0};
    bk_store *store = open_store();
    save(store, "a", 0, "a secret of the case");
    save(store, "b", 0, "one");
    assert_int_equal(bk_store_remove(store, "a", AT, &err), BK_OK);
    assert_string_equal(list(store, false), "b@1 ");
    assert_string_equal(list(store, true), "b@1 a@1 ");
    assert_string_equal(load(store, "a", 0), "case \"a\" has been removed, a case on the list was expected");
    assert_string_equal(load(store, "a", 1), "1:0:a secret of the case");
    assert_int_equal(try_save(store, "a", 1, "x", &conflict, &err), BK_E_NOTHING);
    err = (bk_err){0};
    assert_int_equal(bk_store_remove(store, "a", NULL, &err), BK_OK);
    assert_string_equal(list(store, false), "b@1 a@1 ");
    assert_int_equal(bk_store_destroy(store, "a", &cines, &err), BK_OK);
    assert_string_equal(list(store, true), "b@1 ");
    assert_int_equal(bk_store_destroy(store, "a", &cines, &err), BK_E_NOTHING);
    assert_int_equal(problems(store), 0);
    bk_store_close(store);
    char *bytes; /* destroyed means: not in the file either */
    size_t n;
    assert_int_equal(bk_file_read(file, 10000000, &bytes, &n, &err), BK_OK);
    assert_null(memmem(bytes, n, "a secret of the case", 20));
    free(bytes);
}

/* ---- the database file ---- */

static void test_store__older_databases_are_brought_forward(void **state)
{
    (void)state;
    bk_store *store = open_store();
    save(store, "a", 0, "one");
    bk_store_close(store);
    sql("DROP TRIGGER revisions_are_kept; DROP INDEX case_cines_by_sha256; PRAGMA user_version = 1");
    store = open_store();
    assert_string_equal(load(store, "a", 0), "1:0:one");
    bk_store_close(store);
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(file, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "UPDATE revisions SET document = 'x'", NULL, NULL, NULL),
                     SQLITE_CONSTRAINT);
    sqlite3_close(db);
}

static void refused_open(const char *text)
{
    bk_store *store = NULL;
    bk_err err = {0};
    assert_int_equal(bk_store_open(folder, &store, &err), BK_E_IO);
    assert_null(store);
    if (!strstr(err.message, text))
        fail_msg("\"%s\" was found, \"%s\" was expected", err.message, text);
}

static void test_store__other_databases_are_refused(void **state)
{
    (void)state;
    bk_store_close(open_store());
    sql("PRAGMA user_version = 99");
    refused_open("has version 99, at most 2 was expected: a newer branchkeep made it");
    sql("PRAGMA user_version = 2; PRAGMA application_id = 7");
    refused_open("is a database of another program");
    write_file(
        file,
        "This is a text and no database. It is long enough to be read as a page header of one, though.\n"
        "................................................................................................");
    refused_open("is no database");
}

static void test_store__a_changed_document_is_found(void **state)
{
    (void)state;
    bk_store *store = open_store();
    save(store, "a", 0, "one");
    save(store, "a", 1, "two");
    sql("DROP TRIGGER revisions_are_kept; UPDATE revisions SET document = 'owe' WHERE revision = 1");
    assert_string_equal(load(store, "a", 0), "2:1:two");
    assert_non_null(strstr(load(store, "a", 1), "is damaged"));
    assert_int_equal(problems(store), 2); /* the trigger has gone, too */
    sql("DELETE FROM revisions WHERE revision = 1");
    assert_int_equal(problems(store), 2); /* now a gap */
    bk_store_close(store);
}

/* Whatever byte of the database changes: an answer or a failure, never a wrong document, never a crash. */
static void test_store__any_changed_byte_is_survived(void **state)
{
    (void)state;
    bk_store *store = open_store();
    char text[3000];
    memset(text, 'x', sizeof text);
    text[sizeof text - 1] = '\0';
    for (int i = 0; i < 8; i++)
        save(store, "a", i, text);
    bk_store_close(store);
    char *good, *bad;
    size_t n;
    bk_err err = {0};
    bk_random random;
    bk_random_seed(&random, 1);
    assert_int_equal(bk_file_read(file, 10000000, &good, &n, &err), BK_OK);
    bad = malloc(n);
    for (int trial = 0; trial < 300; trial++) {
        memcpy(bad, good, n);
        const size_t at = trial < 100 ? (size_t)trial : (size_t)(bk_random_unit(&random) * (double)n);
        bad[at] = (char)(bad[at] ^ (1 + (int)(bk_random_unit(&random) * 254)));
        assert_int_equal(bk_file_write(file, bad, n, &err), BK_OK);
        bk_err found = {0};
        if (bk_store_open(folder, &store, &found) == BK_OK) {
            for (int revision = 1; revision <= 8; revision++) {
                char got[200] = "", want[200];
                bk_err ignored = {0};
                bk_format(want, sizeof want, "%d:%d:%s", revision, revision - 1, text);
                if (bk_store_load(store, "a", revision, copy_text, got, &ignored) == BK_OK)
                    assert_string_equal(got, want);
            }
            problems(store);
        } else {
            assert_true(found.message[0]);
        }
        bk_store_close(store);
    }
    free(good);
    free(bad);
}

static void test_store__folder_and_files_are_private(void **state)
{
    (void)state;
    struct stat info;
    char inside[96];
    bk_store *store;
    bk_err err = {0};
    snprintf(inside, sizeof inside, "%s/deeper/still", folder);
    assert_int_equal(bk_store_open(inside, &store, &err), BK_OK);
    assert_int_equal(stat(inside, &info), 0);
    assert_int_equal(info.st_mode & 0777, 0700);
    snprintf(inside, sizeof inside, "%s/deeper/still/%s", folder, bk_store_database);
    assert_int_equal(stat(inside, &info), 0);
    assert_int_equal(info.st_mode & 0777, 0600);
    bk_store_close(store);
    write_file(file, "");
    bk_format(inside, sizeof inside, "%s/x", file);
    assert_int_equal(bk_store_open(inside, &store, &err), BK_E_IO);
    assert_non_null(strstr(err.message, "is a file, a folder was expected"));
}

/* ---- cines ---- */

static void put(bk_store *store, const char *text, char sha256[65], bool expect_new)
{
    char name[96];
    bool is_new;
    bk_err err = {0};
    snprintf(name, sizeof name, "%s/in", folder);
    write_file(name, text);
    if (bk_store_put_cine(store, name, AT, look, sha256, &is_new, &err) != BK_OK)
        fail_msg("%s", err.message);
    assert_int_equal(is_new, expect_new);
}

static void test_store__a_cine_is_kept_once_and_checked(void **state)
{
    (void)state;
    char sha256[65], *path, name[96];
    bool is_new;
    bk_err err = {0};
    bk_store *store = open_store();
    put(store, "a cine", sha256, true);
    put(store, "a cine", sha256, false);
    assert_int_equal(bk_store_cine_path(store, sha256, &path, &err), BK_OK);
    assert_non_null(strstr(path, sha256));
    assert_int_equal(problems(store), 0);
    write_file(path, "b cine"); /* as long */
    char *none;
    assert_int_equal(bk_store_cine_path(store, sha256, &none, &err), BK_E_IO);
    assert_non_null(strstr(err.message, "is broken"));
    assert_null(none);
    assert_int_equal(problems(store), 1);
    put(store, "a cine", sha256, true); /* mended */
    assert_int_equal(problems(store), 0);
    unlink(path);
    err = (bk_err){0};
    assert_int_equal(bk_store_cine_path(store, sha256, &none, &err), BK_E_IO);
    assert_non_null(strstr(err.message, "is missing"));
    free(path);
    snprintf(name, sizeof name, "%s/in", folder);
    write_file(name, "bad cine");
    err = (bk_err){0};
    assert_int_equal(bk_store_put_cine(store, name, AT, look, sha256, &is_new, &err), BK_E_DATA);
    err = (bk_err){0};
    assert_int_equal(bk_store_cine_path(store, sha256, &none, &err), BK_E_NOTHING);
    assert_int_equal(bk_store_cine_path(store, "../../etc/passwd", &none, &err), BK_E_NOTHING);
    bk_store_close(store);
}

static void test_store__destroying_takes_only_cines_of_its_own(void **state)
{
    (void)state;
    char shared[65], own[65], *path;
    bool conflict;
    int n;
    bk_err err = {0};
    bk_store *store = open_store();
    put(store, "shared", shared, true);
    put(store, "own", own, true);
    const char *both[] = {shared, own}, *one[] = {shared};
    const bk_store_entry a = {"a", 0, AT, "{}", "a", both, 2}, b = {"b", 0, AT, "{}", "b", one, 1};
    assert_int_equal(bk_store_save(store, &a, &conflict, &err), BK_OK);
    assert_int_equal(bk_store_save(store, &b, &conflict, &err), BK_OK);
    assert_int_equal(bk_store_destroy(store, "a", &n, &err), BK_OK);
    assert_int_equal(n, 1);
    assert_int_equal(bk_store_cine_path(store, own, &path, &err), BK_E_NOTHING);
    err = (bk_err){0};
    assert_int_equal(bk_store_cine_path(store, shared, &path, &err), BK_OK);
    free(path);
    assert_int_equal(problems(store), 0);
    bk_store_close(store);
}

/* ---- failing steps ---- */

/* Runs each action with its 1st, 2nd, ... step failing, until it gets through; each failure must leave the
   store sound and as it was. */
static void each_step_fails(bk_status (*action)(bk_store *, bk_err *), const char *list_before,
                            long steps_at_least)
{
    long n = 1;
    for (;; n++) {
        bk_err err = {0};
        bk_store *store = open_store();
        bk_store_fail_at(store, n);
        const bk_status status = action(store, &err);
        bk_store_fail_at(store, 0);
        if (status == BK_OK) {
            bk_store_close(store);
            break;
        }
        assert_int_equal(status, BK_E_IO);
        assert_true(err.message[0]);
        assert_string_equal(list(store, true), list_before);
        assert_int_equal(problems(store), 0);
        bk_store_close(store);
    }
    print_message("# %ld steps failed one by one\n", n - 1);
    assert_true(n > steps_at_least);
}

static bk_status save_action(bk_store *store, bk_err *err)
{
    bool conflict;
    static const char *const cines[] = {"0123456789012345678901234567890123456789012345678901234567890123"};
    const bk_store_entry entry = {"a", 1, AT, "{}", "two", cines, 1};
    return bk_store_save(store, &entry, &conflict, err);
}

static bk_status put_action(bk_store *store, bk_err *err)
{
    char name[96], sha256[65];
    bool is_new;
    snprintf(name, sizeof name, "%s/in", folder);
    return bk_store_put_cine(store, name, AT, look, sha256, &is_new, err);
}

/* As an import does: several things as one. */
static bk_status import_action(bk_store *store, bk_err *err)
{
    bool conflict;
    bk_status status = bk_store_begin(store, true, err);
    if (status != BK_OK)
        return status;
    status = put_action(store, err);
    const bk_store_entry one = {"new", 0, AT, "{}", "one", NULL, 0},
                         two = {"new", 1, AT, "{}", "two", NULL, 0};
    if (status == BK_OK)
        status = bk_store_save(store, &one, &conflict, err);
    if (status == BK_OK)
        status = bk_store_save(store, &two, &conflict, err);
    return bk_store_end(store, status, err);
}

static void test_store__every_failing_step_leaves_what_was(void **state)
{
    (void)state;
    char name[96], sha256[65], *path;
    bk_err err = {0};
    bk_store *store = open_store();
    save(store, "a", 0, "one");
    bk_store_close(store);
    snprintf(name, sizeof name, "%s/in", folder);
    each_step_fails(save_action, "a@1 ", 5);
    write_file(name, "first");
    each_step_fails(put_action, "a@2 ", 5);
    write_file(name, "second");
    each_step_fails(import_action, "a@2 ", 15);
    store = open_store();
    assert_string_equal(list(store, true), "new@2 a@2 ");
    bk_sha256("second", 6, sha256);
    assert_int_equal(bk_store_cine_path(store, sha256, &path, &err), BK_OK);
    free(path);
    bk_store_check check = {.problem = count_problem, .context = &(int){0}};
    assert_int_equal(bk_store_verify(store, &check, &err), BK_OK);
    assert_int_equal(check.unlisted_files, 0); /* no file of an undone import stayed */
    assert_int_equal(check.copies_swept, 0);
    bk_store_close(store);
}

/* The system refuses to let files grow, as a full disk would. */
static void test_store__when_files_cannot_grow(void **state)
{
    (void)state;
    bk_store *store = open_store();
    save(store, "a", 0, "one");
    bk_store_close(store);
    const pid_t child = fork();
    if (child == 0) {
        signal(SIGXFSZ, SIG_IGN);
        store = open_store();
        char *text = malloc(400001);
        memset(text, 'x', 400000);
        text[400000] = '\0';
        const struct rlimit limit = {100000, 100000};
        bool conflict;
        bk_err err = {0};
        setrlimit(RLIMIT_FSIZE, &limit);
        const bk_status status = try_save(store, "a", 1, text, &conflict, &err);
        _exit(status == BK_E_IO && strstr(err.message, "cannot be") ? 0 : 1);
    }
    int ended = 1;
    waitpid(child, &ended, 0);
    assert_int_equal(ended, 0);
    store = open_store();
    assert_string_equal(load(store, "a", 0), "1:0:one");
    assert_int_equal(problems(store), 0);
    save(store, "a", 1, "two");
    bk_store_close(store);
}

/* ---- several processes ---- */

enum { PROCESSES = 4, SAVES = 25 };

/* Saves on top of whatever is newest until it has saved SAVES times; a conflict means: look again. */
static void save_many(int who)
{
    bk_store *store = NULL;
    bk_err err = {0};
    int saved = 0, newest;
    bool conflict, removed;
    if (bk_store_open(folder, &store, &err) != BK_OK)
        _exit(1);
    while (saved < SAVES) {
        char text[40];
        snprintf(text, sizeof text, "process %d save %d", who, saved);
        if (bk_store_newest(store, "a", &newest, &removed, &err) != BK_OK ||
            try_save(store, "a", newest, text, &conflict, &err) != BK_OK)
            _exit(2);
        saved += !conflict;
    }
    bk_store_close(store);
    _exit(0);
}

static bk_status mark_saved(void *context, const bk_store_row *row, bk_err *err)
{
    int who, saved;
    (void)err;
    assert_int_equal(sscanf(row->document, "process %d save %d", &who, &saved), 2);
    ++((int(*)[SAVES])context)[who][saved];
    return BK_OK;
}

static void test_store__many_processes_lose_nothing(void **state)
{
    (void)state;
    pid_t children[PROCESSES];
    int count[PROCESSES][SAVES] = {{0}};
    for (int i = 0; i < PROCESSES; i++) /* all of them also make the database */
        if ((children[i] = fork()) == 0)
            save_many(i);
    for (int i = 0; i < PROCESSES; i++) {
        int ended = 1;
        waitpid(children[i], &ended, 0);
        assert_int_equal(ended, 0);
    }
    bk_store *store = open_store();
    bk_err err = {0};
    for (int revision = 1; revision <= PROCESSES * SAVES; revision++)
        assert_int_equal(bk_store_load(store, "a", revision, mark_saved, count, &err), BK_OK);
    for (int i = 0; i < PROCESSES * SAVES; i++)
        assert_int_equal(count[i / SAVES][i % SAVES], 1);
    assert_int_equal(problems(store), 0);
    bk_store_close(store);
}

/* ---- whole stores ---- */

static void test_store__snapshot_and_take_over(void **state)
{
    (void)state;
    bk_err err = {0};
    bk_store_work work;
    bk_store *store = open_store(), *empty, *copy;
    save(store, "a", 0, "one");
    save(store, "a", 1, "two");
    save(store, "b", 0, "b");
    assert_int_equal(bk_store_remove(store, "b", AT, &err), BK_OK);
    assert_int_equal(bk_store_work_new(store, &work, &err), BK_OK);
    assert_int_equal(bk_store_snapshot(store, work.folder, &err), BK_OK);
    save(store, "a", 2, "later");
    assert_int_equal(bk_store_open(work.folder, &copy, &err), BK_OK);
    assert_string_equal(load(copy, "a", 0), "2:1:two");
    bk_store_close(copy);
    char other[96];
    snprintf(other, sizeof other, "%s/other", folder);
    assert_int_equal(bk_store_open(other, &empty, &err), BK_OK);
    assert_int_equal(bk_store_take_over(empty, work.folder, &err), BK_OK);
    assert_string_equal(load(empty, "a", 0), "2:1:two");
    assert_string_equal(list(empty, false), "a@2 ");
    assert_string_equal(list(empty, true), "b@1 a@2 ");
    for (int i = 0; i < 2; i++) { /* also as a part of something larger, as an import is */
        assert_int_equal(bk_store_begin(empty, true, &err), BK_OK);
        err = (bk_err){0};
        assert_int_equal(bk_store_take_over(empty, work.folder, &err), BK_E_USAGE);
        assert_int_equal(bk_store_end(empty, BK_E_USAGE, &err), BK_E_USAGE);
    }
    bk_store_close(empty);
    bk_store_work_end(&work);
    assert_int_equal(problems(store), 0);
    bk_store_close(store);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, make_folder, remove_all)
    const struct CMUnitTest tests[] = {
        TEST(test_store__keeps_every_revision),
        TEST(test_store__the_later_writer_gets_a_conflict),
        TEST(test_store__the_database_refuses_to_change_a_revision),
        TEST(test_store__odd_entries_are_refused),
        TEST(test_store__removed_and_back_and_gone),
        TEST(test_store__older_databases_are_brought_forward),
        TEST(test_store__other_databases_are_refused),
        TEST(test_store__a_changed_document_is_found),
        TEST(test_store__any_changed_byte_is_survived),
        TEST(test_store__folder_and_files_are_private),
        TEST(test_store__a_cine_is_kept_once_and_checked),
        TEST(test_store__destroying_takes_only_cines_of_its_own),
        TEST(test_store__every_failing_step_leaves_what_was),
        TEST(test_store__when_files_cannot_grow),
        TEST(test_store__many_processes_lose_nothing),
        TEST(test_store__snapshot_and_take_over),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
