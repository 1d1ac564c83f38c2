/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A cine is a file DATA/cines/ab/abcdef....dcm, named by the SHA-256 of its content, and a row that lists it.
   The file is in place and on disk before the row is. */
#define _DEFAULT_SOURCE /* flock */
#include "store/inside.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/file.h"

bool bk_store_is_sha256(const char *text)
{
    return strlen(text) == 64 && strspn(text, "0123456789abcdef") == 64;
}

bk_status bk__cine_place(const bk_store *store, const char *sha256, char **folder, char **path, bk_err *err)
{
    char inside[16], name[72];
    snprintf(inside, sizeof inside, "cines/%.2s", sha256);
    snprintf(name, sizeof name, "%.64s.dcm", sha256);
    *folder = bk__join(store->folder, inside, err);
    *path = *folder ? bk__join(*folder, name, err) : NULL;
    if (*path)
        return BK_OK;
    free(*folder);
    *folder = NULL;
    return BK_E_INTERNAL;
}

/* Messages about a cine carry the beginning of its hash: enough to find it. */
bk_status bk__cine_check(const char *path, const char *sha256, int64_t bytes, bk_err *err)
{
    struct stat info;
    char found[65];
    if (lstat(path, &info) != 0 || !S_ISREG(info.st_mode))
        return bk_fail(err, BK_E_IO, "cine %.12s is missing, the file %s was expected", sha256, path);
    if (info.st_size != bytes)
        return bk_fail(err, BK_E_IO, "cine %.12s is broken: %lld bytes were found, %lld were expected",
                       sha256, (long long)info.st_size, (long long)bytes);
    if (bk_file_sha256(path, found, err) != BK_OK)
        return BK_E_IO;
    if (strcmp(found, sha256) != 0)
        return bk_fail(err, BK_E_IO, "cine %.12s is broken: its content has another SHA-256 than its name",
                       sha256);
    return BK_OK;
}

static bk_status bytes_of(bk_store *store, const char *sha256, int64_t *bytes, bk_err *err)
{
    *bytes = -1;
    return bk__sql_number(store,
                          bk__sql_start(store, err, "SELECT bytes FROM cines WHERE sha256 = ?1", "t", sha256),
                          bytes, err);
}

/* ---- put ---- */

typedef struct copy {
    char *path; /* of the copy, in the folder where it will stay */
    int fd;     /* holds the lock that says that somebody is at work on it */
    int64_t bytes;
    char *summary;
} copy;

static bk_status copy_start(const char *folder, copy *c, bk_err *err)
{
    *c = (copy){.path = bk__join(folder, BK__COPY_PREFIX "XXXXXX", err), .fd = -1};
    if (!c->path)
        return BK_E_INTERNAL;
    c->fd = mkstemp(c->path); /* mode 0600 */
    if (c->fd < 0)
        return bk__io_fail(err, "written", folder);
    return flock(c->fd, LOCK_EX | LOCK_NB) == 0 ? BK_OK : bk__io_fail(err, "locked", c->path);
}

static void copy_end(copy *c, bool in_place)
{
    if (c->fd >= 0 && !in_place)
        unlink(c->path);
    if (c->fd >= 0)
        close(c->fd);
    free(c->path);
    free(c->summary);
}

static bk_status remember_placed(bk_store *store, const char *path, bk_err *err)
{
    char **larger = realloc(store->placed, (store->placed_n + 1) * sizeof *larger);
    if (larger)
        store->placed = larger;
    char *name = larger ? strdup(path) : NULL;
    if (!name)
        return bk_fail(err, BK_E_INTERNAL, "out of memory for the name of a file");
    store->placed[store->placed_n++] = name;
    return BK_OK;
}

void bk__placed_end(bk_store *store, bool kept)
{
    for (size_t i = 0; i < store->placed_n; i++) {
        if (!kept)
            unlink(store->placed[i]);
        free(store->placed[i]);
    }
    free(store->placed);
    store->placed = NULL;
    store->placed_n = 0;
}

/* Runs inside a transaction: a file without a row then belongs to nobody, whoever looks under the same lock.
 */
static bk_status place(bk_store *store, const char *sha256, const char *added_at, copy *c, bool *in_place,
                       bk_err *err)
{
    char *folder, *path;
    int64_t known;
    bk_status status = bk__cine_place(store, sha256, &folder, &path, err);
    if (status != BK_OK)
        return status;
    status = bytes_of(store, sha256, &known, err);
    if (status == BK_OK && known < 0 && access(path, F_OK) != 0)
        status = remember_placed(store, path, err);
    if (status == BK_OK && (bk__trips(store, err) || rename(c->path, path) != 0))
        status = bk__io_fail(err, "written", path);
    *in_place = status == BK_OK;
    if (status == BK_OK)
        status = bk__sync_folder(folder, err);
    if (status == BK_OK)
        status = bk__sql_finish(
            store,
            bk__sql_start(store, err,
                          "INSERT INTO cines (sha256, bytes, added_at, summary) VALUES (?1, ?2, ?3, ?4)"
                          " ON CONFLICT (sha256) DO UPDATE SET bytes = ?2, summary = ?4",
                          "titt", sha256, c->bytes, added_at, c->summary),
            err);
    free(folder);
    free(path);
    return status;
}

static bk_status make_place(bk_store *store, const char *folder, bk_err *err)
{
    struct stat info;
    if (stat(folder, &info) == 0 && S_ISDIR(info.st_mode))
        return BK_OK;
    bk_status status = bk__make_folders(folder, err);
    char *above = status == BK_OK ? bk__join(store->folder, "cines", err) : NULL;
    if (status == BK_OK)
        status = above ? bk__sync_folder(above, err) : BK_E_INTERNAL;
    free(above);
    return status == BK_OK ? bk__sync_folder(store->folder, err) : status;
}

typedef struct source {
    const char *path, *sha256, *added_at;
    bk_store_look look;
} source;

static bk_status copy_and_look(bk_store *store, const source *from, const char *folder, copy *c, bk_err *err)
{
    char written[65];
    bk_status status = make_place(store, folder, err);
    if (status == BK_OK)
        status = copy_start(folder, c, err);
    if (status == BK_OK && bk__trips(store, err))
        status = BK_E_IO;
    if (status == BK_OK)
        status = bk__copy(from->path, c->fd, c->path, written, &c->bytes, err);
    if (status == BK_OK && strcmp(written, from->sha256) != 0)
        status =
            bk_fail(err, BK_E_IO, "%s changed while it was read, a file at rest was expected", from->path);
    if (status == BK_OK)
        status = from->look(c->path, &c->summary, err);
    return status;
}

static bk_status put(bk_store *store, const source *from, bk_err *err)
{
    char *folder, *path;
    copy c = {.fd = -1};
    bool in_place = false;
    bk_status status = bk__cine_place(store, from->sha256, &folder, &path, err);
    if (status != BK_OK)
        return status;
    status = copy_and_look(store, from, folder, &c, err);
    if (status == BK_OK)
        status = bk_store_begin(store, true, err);
    if (status == BK_OK)
        status = bk_store_end(store, place(store, from->sha256, from->added_at, &c, &in_place, err), err);
    if (status == BK_OK)
        bk__seen_now(store, path, from->sha256); /* its hash was taken while it was written */
    copy_end(&c, in_place);
    free(folder);
    free(path);
    return status;
}

/* ---- look at what is kept ---- */

/* Listed, there, and sound. */
static bk_status is_kept(bk_store *store, const char *sha256, bool *kept, bk_err *err)
{
    char *folder, *path;
    int64_t bytes;
    bk_err broken = {0};
    *kept = false;
    bk_status status = bytes_of(store, sha256, &bytes, err);
    if (status != BK_OK || bytes < 0)
        return status;
    status = bk__cine_place(store, sha256, &folder, &path, err);
    if (status != BK_OK)
        return status;
    *kept = bk__check_once(store, path, sha256, bytes, &broken) == BK_OK;
    free(folder);
    free(path);
    return BK_OK;
}

bk_status bk_store_put_cine(bk_store *store, const char *path, const char *added_at, bk_store_look look,
                            char sha256[65], bool *is_new, bk_err *err)
{
    bool kept;
    struct stat info;
    *is_new = false;
    bk_status status = bk_file_sha256(path, sha256, err);
    if (status != BK_OK)
        return status;
    if (stat(path, &info) == 0 && info.st_size == 0)
        return bk_fail(err, BK_E_DATA, "%s is empty, a DICOM file was expected", path);
    status = is_kept(store, sha256, &kept, err);
    if (status != BK_OK || kept)
        return status;
    const source from = {path, sha256, added_at, look};
    status = put(store, &from, err);
    *is_new = status == BK_OK;
    return status;
}

bk_status bk_store_cine_path(bk_store *store, const char *sha256, char **path, bk_err *err)
{
    char *folder;
    int64_t bytes;
    *path = NULL;
    if (!bk_store_is_sha256(sha256))
        return bk_fail(err, BK_E_NOTHING, "\"%.70s\" was found, the SHA-256 of a kept cine was expected",
                       sha256);
    bk_status status = bytes_of(store, sha256, &bytes, err);
    if (status == BK_OK && bytes < 0)
        status = bk_fail(err, BK_E_NOTHING,
                         "cine %.12s was not found, the SHA-256 of a kept cine was expected", sha256);
    if (status == BK_OK)
        status = bk__cine_place(store, sha256, &folder, path, err);
    if (status != BK_OK)
        return status;
    free(folder);
    status = bk__check_once(store, *path, sha256, bytes, err);
    if (status != BK_OK) {
        free(*path);
        *path = NULL;
    }
    return status;
}

bk_status bk_store_cines(bk_store *store, const char *case_id, bk_store_each_cine each, void *context,
                         bk_err *err)
{
    bool more = true;
    sqlite3_stmt *s = bk__sql_start(
        store, err,
        "SELECT sha256, bytes, added_at, summary FROM cines WHERE ?1 IS NULL OR sha256 IN"
        " (SELECT sha256 FROM case_cines WHERE case_id = ?1) ORDER BY added_at DESC, rowid DESC",
        "t", case_id);
    bk_status status = s ? BK_OK : err->status;
    while (status == BK_OK) {
        status = bk__sql_step(store, s, &more, err);
        if (status != BK_OK || !more)
            break;
        const bk_store_cine cine = {.sha256 = bk__sql_text(s, 0),
                                    .bytes = sqlite3_column_int64(s, 1),
                                    .added_at = bk__sql_text(s, 2),
                                    .summary = bk__sql_text(s, 3)};
        status = each(context, &cine, err);
    }
    sqlite3_finalize(s);
    return status;
}
