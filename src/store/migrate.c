/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The tables, as numbered steps. A step that has been released is never changed: a later one is added. */
#include "store/inside.h"

#include <stdio.h>
#include <string.h>

#define APPLICATION_ID 0x626b7374 /* "bkst": whose database it is (SQLite file format, offset 68) */

static const char *const steps[] = {
    /* 1: the tables. `bytes` and `summary` are kept beside the document so that a list need not read it. A
       case names its cines whether or not they are kept (yet), hence no reference from case_cines to cines.
     */
    "CREATE TABLE cases ("
    " case_id TEXT PRIMARY KEY NOT NULL CHECK (length(CAST(case_id AS BLOB)) BETWEEN 1 AND 47),"
    " removed_at TEXT"
    ") STRICT;"
    "CREATE TABLE revisions ("
    " seq INTEGER PRIMARY KEY AUTOINCREMENT,"
    " case_id TEXT NOT NULL REFERENCES cases (case_id) ON DELETE CASCADE,"
    " revision INTEGER NOT NULL CHECK (revision >= 1),"
    " based_on INTEGER NOT NULL CHECK (based_on >= 0 AND based_on < revision),"
    " saved_at TEXT NOT NULL,"
    " sha256 TEXT NOT NULL CHECK (length(sha256) = 64),"
    " bytes INTEGER NOT NULL,"
    " summary TEXT NOT NULL,"
    " document TEXT NOT NULL,"
    " UNIQUE (case_id, revision)"
    ") STRICT;"
    "CREATE TABLE cines ("
    " sha256 TEXT PRIMARY KEY NOT NULL CHECK (length(sha256) = 64),"
    " bytes INTEGER NOT NULL CHECK (bytes > 0),"
    " added_at TEXT NOT NULL,"
    " summary TEXT NOT NULL"
    ") STRICT;"
    "CREATE TABLE case_cines ("
    " case_id TEXT NOT NULL REFERENCES cases (case_id) ON DELETE CASCADE,"
    " sha256 TEXT NOT NULL CHECK (length(sha256) = 64),"
    " PRIMARY KEY (case_id, sha256)"
    ") STRICT, WITHOUT ROWID;",
    /* 2: the promise that nothing is overwritten, kept by the database itself; who names a cine */
    "CREATE TRIGGER revisions_are_kept BEFORE UPDATE ON revisions"
    " BEGIN SELECT RAISE(ABORT, 'a revision is never changed'); END;"
    "CREATE INDEX case_cines_by_sha256 ON case_cines (sha256);",
};
#define STEPS ((int64_t)(sizeof steps / sizeof steps[0]))

static bk_status version_of(bk_store *store, int64_t *version, bk_err *err)
{
    int64_t application = 0, tables = 0;
    bk_status status =
        bk__sql_number(store, bk__sql_start(store, err, "PRAGMA application_id", ""), &application, err);
    if (status == BK_OK)
        status = bk__sql_number(store, bk__sql_start(store, err, "PRAGMA user_version", ""), version, err);
    if (status == BK_OK)
        status = bk__sql_number(store, bk__sql_start(store, err, "SELECT count(*) FROM sqlite_schema", ""),
                                &tables, err);
    if (status == BK_OK && application != APPLICATION_ID && (application != 0 || tables > 0))
        return bk_fail(err, BK_E_IO, "%s is a database of another program, one of branchkeep was expected",
                       store->file);
    if (status == BK_OK && *version < 0)
        return bk__sql_fail(store, SQLITE_CORRUPT, err);
    if (status == BK_OK && *version > STEPS)
        return bk_fail(err, BK_E_IO,
                       "%s has version %lld, at most %lld was expected: a newer branchkeep made it",
                       store->file, (long long)*version, (long long)STEPS);
    return status;
}

static bk_status apply_steps(bk_store *store, bk_err *err)
{
    int64_t version = 0;
    char mark[80];
    bk_status status =
        version_of(store, &version, err); /* again, inside: another process may have been first */
    for (; status == BK_OK && version < STEPS; version++) {
        snprintf(mark, sizeof mark, "PRAGMA user_version = %lld; PRAGMA application_id = %d",
                 (long long)version + 1, APPLICATION_ID);
        status = bk__sql_run(store, steps[version], err);
        if (status == BK_OK)
            status = bk__sql_run(store, mark, err);
    }
    return status;
}

bk_status bk__migrate(bk_store *store, bk_err *err)
{
    int64_t version = 0;
    bk_status status = version_of(store, &version, err);
    if (status != BK_OK || version == STEPS)
        return status;
    status = bk_store_begin(store, true, err);
    return status == BK_OK ? bk_store_end(store, apply_steps(store, err), err) : status;
}

/* Step through two lists of the schema side by side. */
static int compare_schemas(sqlite3 *one, sqlite3 *two, bool *same)
{
    static const char list[] =
        "SELECT type || ' ' || name || ' ' || coalesce(sql, '') FROM sqlite_schema ORDER BY 1";
    sqlite3_stmt *a = NULL, *b = NULL;
    int code = sqlite3_prepare_v2(one, list, -1, &a, NULL),
        code_b = sqlite3_prepare_v2(two, list, -1, &b, NULL);
    *same = true;
    while (code == SQLITE_OK || (code == SQLITE_ROW && *same)) {
        code = sqlite3_step(a);
        code_b = sqlite3_step(b);
        *same = code == code_b && (code != SQLITE_ROW || strcmp(bk__sql_text(a, 0), bk__sql_text(b, 0)) == 0);
    }
    sqlite3_finalize(a);
    sqlite3_finalize(b);
    return code == SQLITE_ROW || code == SQLITE_DONE ? SQLITE_OK : code;
}

bk_status bk__schema_is_ours(bk_store *store, bool *ours, bk_err *err)
{
    sqlite3 *fresh = NULL;
    int code = sqlite3_open(":memory:", &fresh);
    for (int64_t i = 0; code == SQLITE_OK && i < STEPS; i++)
        code = sqlite3_exec(fresh, steps[i], NULL, NULL, NULL);
    if (code == SQLITE_OK)
        code = compare_schemas(store->db, fresh, ours);
    sqlite3_close(fresh);
    return code == SQLITE_OK ? BK_OK : bk__sql_fail(store, code, err);
}
