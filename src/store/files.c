/* SPDX-License-Identifier: GPL-3.0-or-later */
#define _DEFAULT_SOURCE /* flock */
#include "store/inside.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/file.h"

char *bk__join(const char *folder, const char *name, bk_err *err)
{
    const size_t room = strlen(folder) + strlen(name) + 2;
    char *path = malloc(room);
    if (path)
        snprintf(path, room, "%s/%s", folder, name);
    else
        bk_fail(err, BK_E_INTERNAL, "out of memory at %zu bytes", room);
    return path;
}

bk_status bk__io_fail(bk_err *err, const char *what, const char *path)
{
    return bk_fail(err, BK_E_IO, "%s cannot be %s: %s", path, what,
                   strerror(errno)); /* NOLINT(concurrency-mt-unsafe) */
}

bk_status bk__sync_folder(const char *path, bk_err *err)
{
    const int fd = open(path, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd < 0)
        return bk__io_fail(err, "opened", path);
    const bool ok = fsync(fd) == 0 || errno == EINVAL; /* a file system that has nothing to sync says so */
    if (!ok)
        bk__io_fail(err, "written", path);
    close(fd);
    return ok ? BK_OK : BK_E_IO;
}

static bk_status make_folder(const char *path, bk_err *err)
{
    struct stat info;
    if (stat(path, &info) == 0)
        return S_ISDIR(info.st_mode) ? BK_OK
                                     : bk_fail(err, BK_E_IO, "%s is a file, a folder was expected", path);
    if (mkdir(path, 0700) == 0 || errno == EEXIST) /* another process may have been first */
        return BK_OK;
    return bk__io_fail(err, "made", path);
}

bk_status bk__make_folders(const char *path, bk_err *err)
{
    char *part = strdup(path);
    if (!part)
        return bk_fail(err, BK_E_INTERNAL, "out of memory at %zu bytes", strlen(path));
    bk_status status = BK_OK;
    for (size_t i = 1; status == BK_OK && path[i - 1]; i++) {
        if (path[i] != '/' && path[i] != '\0')
            continue;
        part[i] = '\0';
        status = make_folder(part, err);
        part[i] = path[i];
    }
    free(part);
    return status;
}

static bk_status write_all(int fd, const char *bytes, size_t n, const char *name, bk_err *err)
{
    while (n > 0) {
        const ssize_t done = write(fd, bytes, n);
        if (done < 0 && errno == EINTR)
            continue;
        if (done <= 0)
            return bk__io_fail(err, "written", name);
        bytes += done;
        n -= (size_t)done;
    }
    return BK_OK;
}

static bk_status copy_bytes(FILE *in, const char *from, int to, const char *to_name, bk_hash *hash,
                            int64_t *bytes, bk_err *err)
{
    char chunk[64 * 1024];
    size_t n;
    while ((n = fread(chunk, 1, sizeof chunk, in)) > 0) {
        *bytes += (int64_t)n;
        if (*bytes > BK_STORE_CINE_MAX)
            return bk_fail(err, BK_E_LIMIT, "%s is larger than %lld bytes, the most that is kept", from,
                           (long long)BK_STORE_CINE_MAX);
        bk_hash_add(hash, chunk, n);
        const bk_status status = write_all(to, chunk, n, to_name, err);
        if (status != BK_OK)
            return status;
    }
    if (ferror(in))
        return bk__io_fail(err, "read", from);
    return fsync(to) == 0 ? BK_OK : bk__io_fail(err, "written", to_name);
}

bk_status bk__copy(const char *from, int to, const char *to_name, char sha256[65], int64_t *bytes,
                   bk_err *err)
{
    *bytes = 0;
    FILE *in = fopen(from, "rbe");
    if (!in)
        return bk__io_fail(err, "read", from);
    bk_hash *hash = bk_hash_new();
    const bk_status status = hash ? copy_bytes(in, from, to, to_name, hash, bytes, err)
                                  : bk_fail(err, BK_E_INTERNAL, "out of memory for a hash");
    bk_hash_end(hash, sha256);
    fclose(in);
    return status;
}

void bk__remove_folder(const char *path)
{
    DIR *folder = opendir(path);
    const struct dirent *entry;
    while (folder && (entry = readdir(folder))) { /* NOLINT(concurrency-mt-unsafe): a stream of our own */
        char *file = strcmp(entry->d_name, ".") && strcmp(entry->d_name, "..")
                         ? bk__join(path, entry->d_name, NULL)
                         : NULL;
        if (file)
            unlink(file);
        free(file);
    }
    if (folder)
        closedir(folder);
    rmdir(path);
}

bool bk__sweep(const char *folder, const char *name)
{
    const bool work = strncmp(name, BK__WORK_PREFIX, strlen(BK__WORK_PREFIX)) == 0;
    if (!work && strncmp(name, BK__COPY_PREFIX, strlen(BK__COPY_PREFIX)) != 0)
        return false;
    char *path = bk__join(folder, name, NULL);
    const int fd = path ? open(path, O_RDONLY | O_CLOEXEC | O_NOFOLLOW) : -1;
    const bool abandoned = fd >= 0 && flock(fd, LOCK_EX | LOCK_NB) == 0;
    if (abandoned && work)
        bk__remove_folder(path);
    else if (abandoned)
        unlink(path);
    if (fd >= 0)
        close(fd);
    free(path);
    return abandoned;
}

bk_status bk_store_work_new(bk_store *store, bk_store_work *work, bk_err *err)
{
    work->lock = -1;
    work->folder = bk__join(store->folder, BK__WORK_PREFIX "XXXXXX", err);
    if (!work->folder)
        return BK_E_INTERNAL;
    if (bk__trips(store, err) || !mkdtemp(work->folder)) {
        const bk_status status = bk__io_fail(err, "written", store->folder);
        free(work->folder);
        work->folder = NULL;
        return status;
    }
    work->lock = open(work->folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (work->lock >= 0 && flock(work->lock, LOCK_EX | LOCK_NB) == 0)
        return BK_OK;
    const bk_status status = bk__io_fail(err, "locked", work->folder);
    bk_store_work_end(work);
    return status;
}

void bk_store_work_end(bk_store_work *work)
{
    if (work->folder)
        bk__remove_folder(work->folder);
    if (work->lock >= 0)
        close(work->lock);
    free(work->folder);
    *work = (bk_store_work){NULL, -1};
}
