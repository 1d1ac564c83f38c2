/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/file.h"

#include <errno.h>
#include <fcntl.h>
#include <sha256.h> /* libmd */
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static bk_status io_error(bk_err *err, const char *what, const char *path)
{
    return bk_fail(err, BK_E_IO, "%s cannot be %s: %s", path, what, strerror(errno)); /* NOLINT(concurrency-mt-unsafe) */
}

static bk_status read_all(FILE *file, const char *path, size_t cap, char **out, size_t *n, bk_err *err)
{
    size_t size = 0, room = 64 * 1024;
    char *bytes = malloc(room + 1);
    while (bytes) {
        size += fread(bytes + size, 1, room - size, file);
        if (size < room)
            break;
        if (room > cap) {
            free(bytes);
            return bk_fail(err, BK_E_LIMIT, "%s is larger than %zu bytes, the most that is read", path, cap);
        }
        room *= 2;
        char *larger = realloc(bytes, room + 1);
        if (!larger)
            free(bytes);
        bytes = larger;
    }
    if (!bytes)
        return bk_fail(err, BK_E_INTERNAL, "out of memory at %zu bytes", room);
    if (ferror(file)) {
        free(bytes);
        return io_error(err, "read", path);
    }
    if (size > cap) {
        free(bytes);
        return bk_fail(err, BK_E_LIMIT, "%s is larger than %zu bytes, the most that is read", path, cap);
    }
    bytes[size] = '\0';
    *out = bytes;
    *n = size;
    return BK_OK;
}

/* fopen also opens folders; reading one then fails with a message that helps nobody. */
static FILE *open_plain(const char *path, bk_err *err)
{
    struct stat info;
    if (stat(path, &info) == 0 && S_ISDIR(info.st_mode)) {
        bk_fail(err, BK_E_IO, "%s is a folder, a file was expected", path);
        return NULL;
    }
    FILE *file = fopen(path, "rbe");
    if (!file)
        io_error(err, "read", path);
    return file;
}

bk_status bk_file_read(const char *path, size_t cap, char **out, size_t *n, bk_err *err)
{
    *out = NULL;
    *n = 0;
    FILE *file = open_plain(path, err);
    if (!file)
        return BK_E_IO;
    const bk_status status = read_all(file, path, cap, out, n, err);
    fclose(file);
    return status;
}

static bool write_bytes(int fd, const char *bytes, size_t n)
{
    while (n > 0) {
        const ssize_t done = write(fd, bytes, n);
        if (done < 0 && errno == EINTR)
            continue;
        if (done <= 0)
            return false;
        bytes += done;
        n -= (size_t)done;
    }
    return fsync(fd) == 0;
}

/* A device or pipe (/dev/stdout) cannot be renamed over: write straight into it. */
static bool is_plain_target(const char *path)
{
    struct stat info;
    return stat(path, &info) != 0 || S_ISREG(info.st_mode);
}

static bk_status write_straight(const char *path, const void *bytes, size_t n, bk_err *err)
{
    const int fd = open(path, O_WRONLY | O_CLOEXEC);
    if (fd < 0)
        return io_error(err, "written", path);
    const bool ok = write_bytes(fd, bytes, n) || errno == EINVAL || errno == EROFS; /* no fsync on a pipe */
    if (!ok)
        io_error(err, "written", path);
    close(fd);
    return ok ? BK_OK : BK_E_IO;
}

/* A name that was changed is safe once its folder is written. A file system that cannot is taken as it is. */
static void sync_folder(const char *path)
{
    const char *slash = strrchr(path, '/');
    const size_t n = slash ? (size_t)(slash - path) : 0;
    char *folder = malloc(n + 2);
    if (!folder)
        return;
    memcpy(folder, path, n);
    strcpy(folder + n, n ? "" : slash ? "/" : ".");
    const int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    free(folder);
    if (fd < 0)
        return;
    (void)fsync(fd);
    close(fd);
}

bk_status bk_file_write(const char *path, const void *bytes, size_t n, bk_err *err)
{
    if (!is_plain_target(path))
        return write_straight(path, bytes, n, err);
    const size_t room = strlen(path) + 8;
    char *temporary = malloc(room);
    if (!temporary)
        return bk_fail(err, BK_E_INTERNAL, "out of memory at %zu bytes", room);
    snprintf(temporary, room, "%s.XXXXXX", path);
    const int fd = mkstemp(temporary);
    bk_status status = BK_OK;
    if (fd < 0) {
        status = io_error(err, "written", path);
        free(temporary);
        return status;
    }
    const mode_t mask = umask(0);
    umask(mask);
    bool ok = fchmod(fd, 0666 & ~mask) == 0 && write_bytes(fd, bytes, n);
    if (!ok)
        status = io_error(err, "written", path);
    if (close(fd) != 0 && ok) {
        status = io_error(err, "written", path);
        ok = false;
    }
    if (ok && rename(temporary, path) != 0) {
        status = io_error(err, "written", path);
        ok = false;
    }
    if (ok)
        sync_folder(path);
    else
        unlink(temporary);
    free(temporary);
    return status;
}

static void hex(const uint8_t digest[SHA256_DIGEST_LENGTH], char out[65])
{
    static const char digits[] = "0123456789abcdef";
    for (size_t i = 0; i < SHA256_DIGEST_LENGTH; i++) {
        out[2 * i] = digits[digest[i] >> 4];
        out[2 * i + 1] = digits[digest[i] & 15];
    }
    out[64] = '\0';
}

bk_status bk_file_sha256(const char *path, char out[65], bk_err *err)
{
    out[0] = '\0';
    FILE *file = open_plain(path, err);
    if (!file)
        return BK_E_IO;
    SHA2_CTX context;
    SHA256Init(&context);
    uint8_t chunk[16 * 1024], digest[SHA256_DIGEST_LENGTH];
    size_t n;
    while ((n = fread(chunk, 1, sizeof chunk, file)) > 0)
        SHA256Update(&context, chunk, n);
    const bool failed = ferror(file) != 0;
    if (failed)
        io_error(err, "read", path);
    fclose(file);
    if (failed)
        return BK_E_IO;
    SHA256Final(digest, &context);
    hex(digest, out);
    return BK_OK;
}

void bk_sha256(const void *bytes, size_t n, char out[65])
{
    SHA2_CTX context;
    uint8_t digest[SHA256_DIGEST_LENGTH];
    SHA256Init(&context);
    SHA256Update(&context, bytes, n);
    SHA256Final(digest, &context);
    hex(digest, out);
}

struct bk_hash {
    SHA2_CTX context;
};

bk_hash *bk_hash_new(void)
{
    bk_hash *hash = malloc(sizeof *hash);
    if (hash)
        SHA256Init(&hash->context);
    return hash;
}

void bk_hash_add(bk_hash *hash, const void *bytes, size_t n)
{
    SHA256Update(&hash->context, bytes, n);
}

void bk_hash_end(bk_hash *hash, char out[65])
{
    uint8_t digest[SHA256_DIGEST_LENGTH];
    if (hash && out) {
        SHA256Final(digest, &hash->context);
        hex(digest, out);
    }
    free(hash);
}
