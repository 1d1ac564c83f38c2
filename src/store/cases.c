/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store/inside.h"

#include <limits.h>
#include <string.h>

#include "base/file.h"

#define COLUMNS                                                                                              \
    "r.case_id, r.revision, r.based_on, r.saved_at, r.sha256, r.summary, r.bytes,"                           \
    " (SELECT count(*) FROM case_cines l JOIN cines k ON k.sha256 = l.sha256 WHERE l.case_id = r.case_id),"  \
    " c.removed_at"
#define FROM " FROM revisions r JOIN cases c ON c.case_id = r.case_id "
#define NEWEST "(SELECT max(revision) FROM revisions m WHERE m.case_id = r.case_id)"
enum { COLUMN_DOCUMENT = 9 };

static bk_store_row read_row(sqlite3_stmt *s, bool with_document)
{
    return (bk_store_row){
        .case_id = bk__sql_text(s, 0),
        .revision = sqlite3_column_int(s, 1),
        .based_on = sqlite3_column_int(s, 2),
        .saved_at = bk__sql_text(s, 3),
        .sha256 = bk__sql_text(s, 4),
        .summary = bk__sql_text(s, 5),
        .bytes = sqlite3_column_int64(s, 6),
        .cines = sqlite3_column_int64(s, 7),
        .removed_at = sqlite3_column_type(s, 8) == SQLITE_NULL ? NULL : bk__sql_text(s, 8),
        .document = with_document ? bk__sql_text(s, COLUMN_DOCUMENT) : NULL,
    };
}

/* Finalizes; *n is how many rows there were. */
static bk_status each_row(bk_store *store, sqlite3_stmt *statement, bk_store_each each, void *context,
                          int64_t *n, bk_err *err)
{
    bool more = true;
    bk_status status = statement ? BK_OK : err->status;
    *n = 0;
    while (status == BK_OK) {
        status = bk__sql_step(store, statement, &more, err);
        if (status != BK_OK || !more)
            break;
        const bk_store_row row = read_row(statement, false);
        status = each(context, &row, err);
        ++*n;
    }
    sqlite3_finalize(statement);
    return status;
}

bk_status bk_store_list(bk_store *store, bool all, bk_store_each each, void *context, bk_err *err)
{
    int64_t n;
    sqlite3_stmt *statement = bk__sql_start(store, err,
                                            "SELECT " COLUMNS FROM "WHERE (?1 OR c.removed_at IS NULL)"
                                            " AND r.revision = " NEWEST " ORDER BY r.seq DESC",
                                            "i", (int64_t)all);
    return each_row(store, statement, each, context, &n, err);
}

static bk_status no_such_case(const char *case_id, bk_err *err)
{
    return bk_fail(err, BK_E_NOTHING, "case \"%.60s\" was not found, the id of a kept case was expected",
                   case_id);
}

bk_status bk_store_history(bk_store *store, const char *case_id, bk_store_each each, void *context,
                           bk_err *err)
{
    int64_t n;
    sqlite3_stmt *statement = bk__sql_start(
        store, err, "SELECT " COLUMNS FROM "WHERE r.case_id = ?1 ORDER BY r.revision", "t", case_id);
    const bk_status status = each_row(store, statement, each, context, &n, err);
    return status == BK_OK && n == 0 ? no_such_case(case_id, err) : status;
}

static bk_status give_document(sqlite3_stmt *statement, bk_store_each each, void *context, bk_err *err)
{
    const bk_store_row row = read_row(statement, true);
    char sha256[65];
    bk_sha256(row.document, (size_t)sqlite3_column_bytes(statement, COLUMN_DOCUMENT), sha256);
    if (strcmp(sha256, row.sha256) != 0)
        return bk_fail(
            err, BK_E_IO,
            "revision %d of case \"%.60s\" is damaged, its content has another SHA-256 than when saved",
            row.revision, row.case_id);
    return each(context, &row, err);
}

static bk_status absent(const char *case_id, int revision, int newest, bk_err *err)
{
    if (newest == 0)
        return no_such_case(case_id, err);
    return bk_fail(err, BK_E_NOTHING, "revision %d of case \"%.60s\" was not found, 1 to %d was expected",
                   revision, case_id, newest);
}

static bk_status removed(const char *case_id, bk_err *err)
{
    return bk_fail(err, BK_E_NOTHING, "case \"%.60s\" has been removed, a case on the list was expected",
                   case_id);
}

bk_status bk_store_load(bk_store *store, const char *case_id, int revision, bk_store_each each, void *context,
                        bk_err *err)
{
    int newest;
    bool gone, found = false;
    bk_status status = bk_store_begin(store, false, err);
    if (status != BK_OK)
        return status;
    status = bk_store_newest(store, case_id, &newest, &gone, err);
    if (status == BK_OK && gone && revision == 0)
        status = removed(case_id, err);
    sqlite3_stmt *statement = NULL;
    if (status == BK_OK) {
        statement = bk__sql_start(
            store, err, "SELECT " COLUMNS ", r.document" FROM "WHERE r.case_id = ?1 AND r.revision = ?2",
            "ti", case_id, (int64_t)(revision ? revision : newest));
        status = statement ? bk__sql_step(store, statement, &found, err) : err->status;
    }
    if (status == BK_OK)
        status =
            found ? give_document(statement, each, context, err) : absent(case_id, revision, newest, err);
    sqlite3_finalize(statement);
    return bk_store_end(store, status, err);
}

bk_status bk_store_newest(bk_store *store, const char *case_id, int *revision, bool *is_removed, bk_err *err)
{
    int64_t newest = 0, gone = 0;
    bk_status status = bk__sql_number(
        store,
        bk__sql_start(store, err, "SELECT max(revision) FROM revisions WHERE case_id = ?1", "t", case_id),
        &newest, err);
    if (status == BK_OK)
        status = bk__sql_number(store,
                                bk__sql_start(store, err,
                                              "SELECT removed_at IS NOT NULL FROM cases WHERE case_id = ?1",
                                              "t", case_id),
                                &gone, err);
    *revision = (int)newest;
    *is_removed = gone != 0;
    return status;
}

static bk_status insert(bk_store *store, const bk_store_entry *e, bk_err *err)
{
    char sha256[65];
    const size_t bytes = strlen(e->document);
    bk_sha256(e->document, bytes, sha256);
    bk_status status = bk__sql_finish(
        store,
        bk__sql_start(store, err, "INSERT OR IGNORE INTO cases (case_id) VALUES (?1)", "t", e->case_id), err);
    if (status == BK_OK)
        status = bk__sql_finish(store,
                                bk__sql_start(store, err,
                                              "INSERT INTO revisions (case_id, revision, based_on, saved_at, "
                                              "sha256, bytes, summary, document)"
                                              " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                                              "tiittitt", e->case_id, (int64_t)e->based_on + 1,
                                              (int64_t)e->based_on, e->saved_at, sha256, (int64_t)bytes,
                                              e->summary, e->document),
                                err);
    for (size_t i = 0; status == BK_OK && i < e->cines_n; i++)
        status = bk__sql_finish(
            store,
            bk__sql_start(store, err, "INSERT OR IGNORE INTO case_cines (case_id, sha256) VALUES (?1, ?2)",
                          "tt", e->case_id, e->cines[i]),
            err);
    return status;
}

static bk_status save(bk_store *store, const bk_store_entry *entry, bool *conflict, bk_err *err)
{
    int newest;
    bool gone;
    const bk_status status = bk_store_newest(store, entry->case_id, &newest, &gone, err);
    if (status != BK_OK)
        return status;
    if (gone)
        return removed(entry->case_id, err);
    if (entry->based_on > newest)
        return absent(entry->case_id, entry->based_on, newest, err);
    *conflict = entry->based_on < newest;
    return *conflict ? BK_OK : insert(store, entry, err);
}

bk_status bk_store_save(bk_store *store, const bk_store_entry *entry, bool *conflict, bk_err *err)
{
    *conflict = false;
    const size_t id_n = strlen(entry->case_id);
    if (id_n < 1 || id_n > BK_STORE_ID_MAX)
        return bk_fail(err, BK_E_DATA, "a case id of %zu bytes was found, 1 to %d were expected", id_n,
                       BK_STORE_ID_MAX);
    if (entry->based_on < 0 || entry->based_on == INT_MAX)
        return bk_fail(err, BK_E_USAGE, "a case based on revision %d was found, 0 or more was expected",
                       entry->based_on);
    if (strlen(entry->document) > BK_STORE_DOCUMENT_MAX)
        return bk_fail(err, BK_E_LIMIT, "a document of %zu bytes was found, at most %zu are kept",
                       strlen(entry->document), BK_STORE_DOCUMENT_MAX);
    const bk_status status = bk_store_begin(store, true, err);
    return status == BK_OK ? bk_store_end(store, save(store, entry, conflict, err), err) : status;
}
