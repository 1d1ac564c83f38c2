/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store/inside.h"

#include <stdarg.h>
#include <string.h>

static const char *reason(int code)
{
    switch (code & 0xff) {
    case SQLITE_FULL:
        return "cannot be written: the disk is full";
    case SQLITE_READONLY:
    case SQLITE_PERM:
        return "cannot be written: it, or its folder, is read-only";
    case SQLITE_CANTOPEN:
        return "cannot be opened: no such folder, or no right to it";
    case SQLITE_CORRUPT:
    case SQLITE_FORMAT:
        return "is damaged, a sound database was expected";
    case SQLITE_ERROR: /* our statements are right, so the tables are not */
    case SQLITE_SCHEMA:
        return "is damaged: its tables are not those that were expected";
    case SQLITE_NOTADB:
        return "is no database, a database of branchkeep was expected";
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return "is in use: another program has kept it locked for too long";
    case SQLITE_IOERR:
        return "cannot be read or written: the system reports an input/output error";
    default:
        return NULL;
    }
}

bk_status bk__sql_fail(bk_store *store, int code, bk_err *err)
{
    if ((code & 0xff) == SQLITE_NOMEM)
        return bk_fail(err, BK_E_INTERNAL, "out of memory in the database");
    if ((code & 0xff) == SQLITE_CONSTRAINT || (code & 0xff) == SQLITE_MISMATCH)
        return bk_fail(err, BK_E_DATA,
                       "content was found that the rules of the database refuse, sound content was expected");
    const char *text = reason(code);
    if (text)
        return bk_fail(err, BK_E_IO, "%s %s", store->file, text);
    return bk_fail(err, BK_E_INTERNAL, "the database answered with code %d, success was expected", code);
}

bool bk__trips(bk_store *store, bk_err *err)
{
    if (store->fail_at == 0 || --store->fail_at > 0)
        return false;
    bk_fail(err, BK_E_IO, "%s cannot be written: a test made this step fail", store->file);
    return true;
}

void bk_store_fail_at(bk_store *store, long n)
{
    store->fail_at = n;
}

bk_status bk__sql_run(bk_store *store, const char *sql, bk_err *err)
{
    if (bk__trips(store, err))
        return BK_E_IO;
    const int code = sqlite3_exec(store->db, sql, NULL, NULL, NULL);
    return code == SQLITE_OK ? BK_OK : bk__sql_fail(store, code, err);
}

static int bind_all(sqlite3_stmt *statement, const char *kinds, va_list args)
{
    int code = SQLITE_OK;
    for (int i = 0; kinds[i] && code == SQLITE_OK; i++) {
        if (kinds[i] == 'i')
            code = sqlite3_bind_int64(statement, i + 1, va_arg(args, int64_t));
        else
            code = sqlite3_bind_text(statement, i + 1, va_arg(args, const char *), -1, SQLITE_STATIC);
    }
    return code;
}

sqlite3_stmt *bk__sql_start(bk_store *store, bk_err *err, const char *sql, const char *kinds, ...)
{
    sqlite3_stmt *statement = NULL;
    if (bk__trips(store, err))
        return NULL;
    int code = sqlite3_prepare_v2(store->db, sql, -1, &statement, NULL);
    va_list args;
    va_start(args, kinds);
    if (code == SQLITE_OK)
        code = bind_all(statement, kinds, args);
    va_end(args);
    if (code == SQLITE_OK)
        return statement;
    bk__sql_fail(store, code, err);
    sqlite3_finalize(statement);
    return NULL;
}

bk_status bk__sql_step(bk_store *store, sqlite3_stmt *statement, bool *row, bk_err *err)
{
    *row = false;
    if (bk__trips(store, err))
        return BK_E_IO;
    const int code = sqlite3_step(statement);
    *row = code == SQLITE_ROW;
    return *row || code == SQLITE_DONE ? BK_OK : bk__sql_fail(store, code, err);
}

bk_status bk__sql_finish(bk_store *store, sqlite3_stmt *statement, bk_err *err)
{
    bool row;
    if (!statement)
        return err->status;
    const bk_status status = bk__sql_step(store, statement, &row, err);
    sqlite3_finalize(statement);
    return status;
}

bk_status bk__sql_number(bk_store *store, sqlite3_stmt *statement, int64_t *out, bk_err *err)
{
    bool row;
    if (!statement)
        return err->status;
    const bk_status status = bk__sql_step(store, statement, &row, err);
    if (row)
        *out = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    return status;
}

const char *bk__sql_text(sqlite3_stmt *statement, int column)
{
    const char *text = (const char *)sqlite3_column_text(statement, column);
    return text ? text : "";
}

bk_status bk_store_begin(bk_store *store, bool write, bk_err *err)
{
    if (store->depth > 0) {
        store->depth++;
        return BK_OK;
    }
    /* IMMEDIATE: who reads in order to write takes the lock first, so that nobody can come between */
    const bk_status status = bk__sql_run(store, write ? "BEGIN IMMEDIATE" : "BEGIN", err);
    if (status == BK_OK)
        store->depth = 1;
    return status;
}

void bk__detach_other(bk_store *store)
{
    if (store->other)
        sqlite3_exec(store->db, "DETACH other", NULL, NULL, NULL);
    store->other = false;
}

bk_status bk_store_end(bk_store *store, bk_status status, bk_err *err)
{
    if (--store->depth > 0)
        return status;
    if (status == BK_OK)
        status = bk__sql_run(store, "COMMIT", err);
    if (status != BK_OK && !sqlite3_get_autocommit(store->db)) /* some errors have rolled back already */
        sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
    bk__placed_end(store, status == BK_OK);
    bk__detach_other(store); /* not possible within a transaction */
    return status;
}
