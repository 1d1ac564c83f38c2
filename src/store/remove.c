/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Off the list and back; and gone for good, with the cines that no other case names. */
#include "store/inside.h"

#include <stdlib.h>
#include <unistd.h>

#include "base/format.h"

bk_status bk_store_remove(bk_store *store, const char *case_id, const char *at, bk_err *err)
{
    bk_status status = bk_store_begin(store, true, err);
    if (status != BK_OK)
        return status;
    status = bk__sql_finish(
        store,
        bk__sql_start(
            store, err,
            "UPDATE cases SET removed_at = CASE WHEN ?2 IS NULL THEN NULL ELSE coalesce(removed_at, ?2) END"
            " WHERE case_id = ?1",
            "tt", case_id, at),
        err);
    if (status == BK_OK && sqlite3_changes(store->db) == 0)
        status = bk_fail(err, BK_E_NOTHING,
                         "case \"%.60s\" was not found, the id of a kept case was expected", case_id);
    return bk_store_end(store, status, err);
}

typedef struct hashes {
    char (*sha256)[65];
    size_t n;
} hashes;

static bk_status collect(bk_store *store, const char *case_id, hashes *out, bk_err *err)
{
    bool more = true;
    sqlite3_stmt *s =
        bk__sql_start(store, err,
                      "SELECT k.sha256 FROM cines k JOIN case_cines l ON l.sha256 = k.sha256"
                      " WHERE l.case_id = ?1 AND NOT EXISTS"
                      " (SELECT 1 FROM case_cines o WHERE o.sha256 = k.sha256 AND o.case_id <> ?1)",
                      "t", case_id);
    bk_status status = s ? BK_OK : err->status;
    while (status == BK_OK) {
        status = bk__sql_step(store, s, &more, err);
        if (status != BK_OK || !more)
            break;
        char(*larger)[65] = realloc(out->sha256, (out->n + 1) * sizeof *larger);
        if (!larger)
            status = bk_fail(err, BK_E_INTERNAL, "out of memory for %zu hashes", out->n + 1);
        else {
            out->sha256 = larger;
            bk_format(out->sha256[out->n++], 65, "%s", bk__sql_text(s, 0));
        }
    }
    sqlite3_finalize(s);
    return status;
}

static bk_status delete_rows(bk_store *store, const char *case_id, hashes *cines, bk_err *err)
{
    bk_status status = collect(store, case_id, cines, err);
    for (size_t i = 0; status == BK_OK && i < cines->n; i++)
        status = bk__sql_finish(
            store, bk__sql_start(store, err, "DELETE FROM cines WHERE sha256 = ?1", "t", cines->sha256[i]),
            err);
    if (status == BK_OK)
        status = bk__sql_finish(
            store, bk__sql_start(store, err, "DELETE FROM cases WHERE case_id = ?1", "t", case_id), err);
    if (status == BK_OK && sqlite3_changes(store->db) == 0)
        return bk_fail(err, BK_E_NOTHING, "case \"%.60s\" was not found, the id of a kept case was expected",
                       case_id);
    return status;
}

/* Under the writers' lock: nobody is putting the same cine back at this moment, and if somebody has, there is
 * a row. */
static bk_status delete_files(bk_store *store, const hashes *cines, bk_err *err)
{
    bk_status status = BK_OK;
    for (size_t i = 0; status == BK_OK && i < cines->n; i++) {
        char *folder, *path;
        int64_t rows = 0;
        status = bk__sql_number(
            store,
            bk__sql_start(store, err, "SELECT count(*) FROM cines WHERE sha256 = ?1", "t", cines->sha256[i]),
            &rows, err);
        if (status == BK_OK)
            status = bk__cine_place(store, cines->sha256[i], &folder, &path, err);
        if (status != BK_OK)
            break;
        if (rows == 0 && unlink(path) != 0 && access(path, F_OK) == 0)
            status = bk__io_fail(err, "removed", path);
        free(folder);
        free(path);
    }
    return status;
}

bk_status bk_store_destroy(bk_store *store, const char *case_id, int *cines, bk_err *err)
{
    hashes gone = {0};
    bk_status status = bk_store_begin(store, true, err);
    if (status != BK_OK)
        return status;
    status = bk_store_end(store, delete_rows(store, case_id, &gone, err), err);
    if (status == BK_OK)
        status = bk_store_begin(store, true, err);
    if (status == BK_OK)
        status = bk_store_end(store, delete_files(store, &gone, err), err);
    /* the write-ahead file still holds the pages as they were */
    if (status == BK_OK)
        status = bk__sql_run(store, "PRAGMA wal_checkpoint(TRUNCATE)", err);
    *cines = (int)gone.n;
    free(gone.sha256);
    return status;
}
