/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store/inside.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/file.h"

static void tell(bk_store_check *check, const char *text)
{
    check->problem(check->context, text);
}

/* Rows of a check that says "ok" when all is well, or nothing. */
static bk_status pragma(bk_store *store, const char *sql, const char *what, bk_store_check *check,
                        bk_err *err)
{
    bool more = true;
    sqlite3_stmt *s = bk__sql_start(store, err, sql, "");
    bk_status status = s ? BK_OK : err->status;
    while (status == BK_OK) {
        char line[200];
        status = bk__sql_step(store, s, &more, err);
        if (status != BK_OK || !more)
            break;
        const char *text = bk__sql_text(s, 0);
        snprintf(line, sizeof line, "%s: %.150s", what, text);
        if (strcmp(text, "ok") != 0)
            tell(check, line);
    }
    sqlite3_finalize(s);
    return status;
}

static void check_document(sqlite3_stmt *s, bk_store_check *check)
{
    char sha256[65], line[160];
    const char *text = bk__sql_text(s, 3);
    bk_sha256(text, (size_t)sqlite3_column_bytes(s, 3), sha256);
    if (strcmp(sha256, bk__sql_text(s, 2)) != 0) {
        snprintf(line, sizeof line,
                 "case \"%.60s\", revision %d: its content has another SHA-256 than when saved",
                 bk__sql_text(s, 0), sqlite3_column_int(s, 1));
        tell(check, line);
    }
}

static bk_status documents(bk_store *store, bk_store_check *check, bk_err *err)
{
    bool more = true;
    sqlite3_stmt *s = bk__sql_start(
        store, err, "SELECT case_id, revision, sha256, document FROM revisions ORDER BY seq", "");
    bk_status status = s ? BK_OK : err->status;
    while (status == BK_OK) {
        status = bk__sql_step(store, s, &more, err);
        if (status != BK_OK || !more)
            break;
        check_document(s, check);
        check->revisions++;
    }
    sqlite3_finalize(s);
    return status;
}

/* Revisions of a case count from 1 without a gap. */
static bk_status gaps(bk_store *store, bk_store_check *check, bk_err *err)
{
    return pragma(
        store,
        "SELECT case_id FROM cases c WHERE (SELECT count(*) FROM revisions r WHERE r.case_id = c.case_id) = 0"
        " OR (SELECT count(*) - max(revision) FROM revisions r WHERE r.case_id = c.case_id) <> 0",
        "a revision is missing in case", check, err);
}

typedef struct visit {
    bk_store *store;
    bk_store_check *check;
} visit;

static bk_status check_cine(void *context, const bk_store_cine *cine, bk_err *err)
{
    const visit *v = context;
    char *folder, *path;
    bk_err found = {0};
    v->check->cines++;
    const bk_status status = bk__cine_place(v->store, cine->sha256, &folder, &path, err);
    if (status != BK_OK)
        return status;
    if (bk__cine_check(path, cine->sha256, cine->bytes, &found) != BK_OK)
        tell(v->check, found.message);
    free(folder);
    free(path);
    return BK_OK;
}

static bk_status check_file(bk_store *store, const char *name, bk_store_check *check, bk_err *err)
{
    int64_t rows = 0;
    char sha256[65] = "";
    if (strlen(name) == 68 && strcmp(name + 64, ".dcm") == 0)
        memcpy(sha256, name, 64);
    const bk_status status = bk__sql_number(
        store, bk__sql_start(store, err, "SELECT count(*) FROM cines WHERE sha256 = ?1", "t", sha256), &rows,
        err);
    check->unlisted_files += rows == 0;
    return status;
}

static bk_status check_folder(bk_store *store, const char *path, bool cines, bk_store_check *check,
                              bk_err *err)
{
    bk_status status = BK_OK;
    DIR *folder = opendir(path);
    const struct dirent *entry;
    while (folder && status == BK_OK &&
           (entry = readdir(folder))) { /* NOLINT(concurrency-mt-unsafe): a stream of our own */
        if (bk__sweep(path, entry->d_name))
            check->copies_swept++;
        else if (cines && entry->d_name[0] != '.')
            status = check_file(store, entry->d_name, check, err);
    }
    if (folder)
        closedir(folder);
    return status;
}

static bk_status files(bk_store *store, bk_store_check *check, bk_err *err)
{
    bk_status status = check_folder(store, store->folder, false, check, err);
    for (int i = 0; status == BK_OK && i < 256; i++) {
        char inside[16];
        snprintf(inside, sizeof inside, "cines/%02x", (unsigned)i);
        char *path = bk__join(store->folder, inside, err);
        status = path ? check_folder(store, path, true, check, err) : BK_E_INTERNAL;
        free(path);
    }
    return status;
}

static bk_status rows(bk_store *store, bk_store_check *check, bk_err *err)
{
    visit v = {store, check};
    bool ours;
    bk_status status = bk__schema_is_ours(store, &ours, err);
    if (status == BK_OK && !ours)
        tell(check, "the database: its tables are not those that this program makes");
    if (status == BK_OK)
        status = pragma(store, "PRAGMA integrity_check(20)", "the database", check, err);
    if (status == BK_OK)
        status = pragma(store, "PRAGMA foreign_key_check", "a row refers to nothing in table", check, err);
    if (status == BK_OK)
        status = bk__sql_number(store, bk__sql_start(store, err, "SELECT count(*) FROM cases", ""),
                                &check->cases, err);
    if (status == BK_OK)
        status = documents(store, check, err);
    if (status == BK_OK)
        status = gaps(store, check, err);
    return status == BK_OK && !check->rows_only ? bk_store_cines(store, NULL, check_cine, &v, err) : status;
}

bk_status bk_store_verify(bk_store *store, bk_store_check *check, bk_err *err)
{
    bk_status status = bk_store_begin(store, false, err);
    if (status != BK_OK)
        return status;
    status = bk_store_end(store, rows(store, check, err), err);
    return status == BK_OK && !check->rows_only ? files(store, check, err) : status;
}
