/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store/inside.h"

#include <fcntl.h>
#include <stdlib.h>
#include <unistd.h>

static bk_status sync_file(const char *path, bk_err *err)
{
    const int fd = open(path, O_RDWR | O_CLOEXEC);
    if (fd < 0)
        return bk__io_fail(err, "opened", path);
    const bool ok = fsync(fd) == 0;
    if (!ok)
        bk__io_fail(err, "written", path);
    close(fd);
    return ok ? BK_OK : BK_E_IO;
}

bk_status bk_store_snapshot(bk_store *store, const char *folder, bk_err *err)
{
    char *path = bk__join(folder, bk_store_database, err);
    if (!path)
        return BK_E_INTERNAL;
    /* one read transaction of SQLite's own: consistent, whoever writes meanwhile */
    bk_status status = bk__sql_finish(store, bk__sql_start(store, err, "VACUUM INTO ?1", "t", path), err);
    if (status == BK_OK)
        status = sync_file(path, err);
    free(path);
    return status;
}

/* Row by row into our own tables, whose checks hold; the other schema is only read. */
static bk_status take_rows(bk_store *store, bk_err *err)
{
    int64_t here = 0;
    bk_status status =
        bk__sql_number(store, bk__sql_start(store, err, "SELECT count(*) FROM main.cases", ""), &here, err);
    if (status == BK_OK && here > 0)
        return bk_fail(err, BK_E_USAGE,
                       "%lld cases were found in %s, an empty folder was expected for a backup",
                       (long long)here, store->folder);
    if (status == BK_OK)
        status = bk__sql_run(
            store,
            "INSERT INTO main.cases (case_id, removed_at) SELECT case_id, removed_at FROM other.cases;"
            "INSERT INTO main.revisions (seq, case_id, revision, based_on, saved_at, sha256, bytes,"
            " summary, document) SELECT seq, case_id, revision, based_on, saved_at, sha256, bytes,"
            " summary, document FROM other.revisions;"
            "INSERT INTO main.case_cines (case_id, sha256) SELECT case_id, sha256 FROM other.case_cines;"
            "UPDATE main.cines SET added_at = (SELECT o.added_at FROM other.cines o WHERE o.sha256 ="
            " main.cines.sha256) WHERE sha256 IN (SELECT sha256 FROM other.cines)",
            err);
    return status;
}

bk_status bk_store_take_over(bk_store *store, const char *folder, bk_err *err)
{
    char *path = bk__join(folder, bk_store_database, err);
    if (!path)
        return BK_E_INTERNAL;
    /* bk_store_end detaches it; a second one within the same transaction would be refused */
    bk_status status = bk__sql_finish(store, bk__sql_start(store, err, "ATTACH ?1 AS other", "t", path), err);
    free(path);
    if (status != BK_OK)
        return status;
    store->other = true;
    status = bk_store_begin(store, true, err);
    if (status == BK_OK)
        return bk_store_end(store, take_rows(store, err), err);
    bk__detach_other(store);
    return status;
}
