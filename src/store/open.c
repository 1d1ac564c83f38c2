/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store/inside.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#define PATIENCE_MS 10000 /* how long one writer waits for another */

const char bk_store_database[] = "cases.sqlite";

/* SQLite gives a new file the rights of the umask; patients' data are for their owner only. */
static bk_status make_private(bk_store *store, bk_err *err)
{
    struct stat info;
    if (stat(store->file, &info) == 0 && !S_ISREG(info.st_mode))
        return bk_fail(err, BK_E_IO, "%s is no plain file, a database was expected", store->file);
    const int fd = open(store->file, O_CREAT | O_EXCL | O_RDWR | O_CLOEXEC, 0600);
    if (fd < 0)
        return errno == EEXIST ? BK_OK : bk__io_fail(err, "made", store->file);
    close(fd);
    store->is_new = true;
    return bk__sync_folder(store->folder, err);
}

/* The change to WAL needs the file alone and does not wait for it, so two first starts at once try again. */
static bk_status write_ahead(bk_store *store, bk_err *err)
{
    const struct timespec pause = {0, 20 * 1000 * 1000};
    for (int tries = 0; tries < PATIENCE_MS / 20; tries++) {
        if (bk__trips(store, err))
            return BK_E_IO;
        const int code = sqlite3_exec(store->db, "PRAGMA journal_mode = WAL", NULL, NULL, NULL);
        if ((code & 0xff) != SQLITE_BUSY)
            return code == SQLITE_OK ? BK_OK : bk__sql_fail(store, code, err);
        nanosleep(&pause, NULL);
    }
    return bk__sql_fail(store, SQLITE_BUSY, err);
}

static bk_status set_up(bk_store *store, bk_err *err)
{
    sqlite3_extended_result_codes(store->db, 1);
    sqlite3_busy_timeout(store->db, PATIENCE_MS);
    /* the file may have been made by somebody else: no SQL of its schema may call functions or harm the file
     */
    sqlite3_db_config(store->db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    sqlite3_db_config(store->db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    bk_status status = bk__sql_run(store, "PRAGMA cell_size_check = ON", err);
    if (status == BK_OK)
        status = write_ahead(store, err);
    /* FULL: a commit is on disk when it returns. secure_delete: what is destroyed is overwritten */
    if (status == BK_OK)
        status = bk__sql_run(store,
                             "PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON; PRAGMA secure_delete = ON;"
                             "PRAGMA temp_store = MEMORY",
                             err);
    return status == BK_OK ? bk__migrate(store, err) : status;
}

static bk_status open_database(bk_store *store, bk_err *err)
{
    bk_status status = make_private(store, err);
    if (status != BK_OK)
        return status;
    const int code =
        sqlite3_open_v2(store->file, &store->db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL);
    if (code != SQLITE_OK)
        return bk__sql_fail(store, code, err);
    return set_up(store, err);
}

bk_status bk_store_open(const char *folder, bk_store **out, bk_err *err)
{
    bk_err own = {0};
    err = err ? err : &own;
    *out = NULL;
    bk_status status = bk__make_folders(folder, err);
    if (status != BK_OK)
        return status;
    bk_store *store = calloc(1, sizeof *store);
    if (!store)
        return bk_fail(err, BK_E_INTERNAL, "out of memory for the store");
    store->folder = strdup(folder);
    store->file = bk__join(folder, bk_store_database, err);
    if (!store->folder || !store->file)
        status = bk_fail(err, BK_E_INTERNAL, "out of memory for the store");
    if (status == BK_OK)
        status = open_database(store, err);
    if (status == BK_OK)
        *out = store;
    else
        bk_store_close(store);
    return status;
}

void bk_store_close(bk_store *store)
{
    if (!store)
        return;
    sqlite3_close(store->db);
    free(store->folder);
    free(store->file);
    free(store->seen);
    free(store);
}

const char *bk_store_folder(const bk_store *store)
{
    return store->folder;
}
