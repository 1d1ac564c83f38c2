/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store/archive_file.h"

#include <archive.h>
#include <archive_entry.h>
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/file.h"
#include "store/inside.h"

#define MANIFEST "MANIFEST.json"

typedef struct reader {
    struct archive *tar;
    int64_t size; /* of the archive file: uncompressed, so no more can come out of it */
} reader;

static bk_status refuse(bk_err *err, const char *found, const char *expected)
{
    return bk_fail(err, BK_E_DATA, "%s was found in the archive, %s was expected", found, expected);
}

/* ---- the manifest ---- */

static bool is_safe_name(const char *name)
{
    const size_t n = strlen(name);
    return n > 0 && n < 100 && strspn(name, "abcdefghijklmnopqrstuvwxyz0123456789._-/") == n &&
           name[0] != '/' && name[0] != '.' && !strstr(name, "..") && !strstr(name, "//") &&
           name[n - 1] != '/';
}

static bk_status read_member(const bk_json *item, bk_members *members, bk_err *err)
{
    const char *name = bk_json_text(bk_json_get(item, "name")),
               *sha256 = bk_json_text(bk_json_get(item, "sha256"));
    const double bytes = bk_json_number(bk_json_get(item, "bytes"));
    if (!is_safe_name(name))
        return refuse(err, "a member with an unsafe name", "a name of plain letters inside the archive");
    if (!bk_store_is_sha256(sha256))
        return refuse(err, "a member without SHA-256", "one of 64 hexadecimal digits");
    if (!(bytes >= 0) || bytes != floor(bytes))
        return refuse(err, "a member without its number of bytes", "a whole number");
    if (bytes > (double)BK_ARCHIVE_MEMBER_MAX)
        return bk_fail(err, BK_E_LIMIT,
                       "a member of %.0f bytes was found in the archive, at most %lld were expected", bytes,
                       (long long)BK_ARCHIVE_MEMBER_MAX);
    const bk_status status = bk_members_add(members, name, NULL, NULL, err);
    if (status != BK_OK)
        return status;
    members->items[members->n - 1].bytes = (int64_t)bytes;
    memcpy(members->items[members->n - 1].sha256, sha256, 65);
    return BK_OK;
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static bk_status no_name_twice(const bk_members *members, bk_err *err)
{
    const char **names = malloc((members->n + 1) * sizeof *names);
    if (!names)
        return bk_fail(err, BK_E_INTERNAL, "out of memory for %zu names", members->n);
    for (size_t i = 0; i < members->n; i++)
        names[i] = members->items[i].name;
    qsort(names, members->n, sizeof *names, by_name);
    bool twice = false;
    for (size_t i = 1; i < members->n; i++)
        twice = twice || strcmp(names[i - 1], names[i]) == 0;
    free(names);
    return twice ? refuse(err, "a member listed twice", "each name once") : BK_OK;
}

static bk_status read_manifest(const reader *r, const bk_json *manifest, bk_members *members, bk_err *err)
{
    const bk_json *list = bk_json_get(manifest, "members");
    int64_t total = 0;
    if (strcmp(bk_json_text(bk_json_get(manifest, "schema")), BK_ARCHIVE_SCHEMA) != 0)
        return refuse(err, "a manifest of another schema", BK_ARCHIVE_SCHEMA);
    if (!bk_json_is_array(list))
        return refuse(err, "a manifest without members", "their list");
    if (bk_json_count(list) > BK_ARCHIVE_MEMBERS_MAX)
        return bk_fail(err, BK_E_LIMIT, "%zu members were found in the archive, at most %d were expected",
                       bk_json_count(list), BK_ARCHIVE_MEMBERS_MAX);
    bk_status status = BK_OK;
    for (size_t i = 0; status == BK_OK && i < bk_json_count(list); i++) {
        status = read_member(bk_json_at(list, i), members, err);
        if (status == BK_OK)
            total += members->items[i].bytes;
    }
    if (status == BK_OK && total > r->size)
        return refuse(err, "a list of more bytes than the archive has", "no more than its size");
    return status == BK_OK ? no_name_twice(members, err) : status;
}

/* ---- entries ---- */

/* libarchive's own messages may quote names from the file; ours do not. */
static bk_status next_entry(const reader *r, struct archive_entry **entry, bk_err *err)
{
    const int code = archive_read_next_header(r->tar, entry);
    if (code == ARCHIVE_EOF) {
        *entry = NULL;
        return BK_OK;
    }
    if (code != ARCHIVE_OK)
        return bk_fail(err, BK_E_DATA,
                       "no readable tar was found, an uncompressed, whole archive was expected");
    if (archive_entry_filetype(*entry) != AE_IFREG || archive_entry_hardlink(*entry) ||
        archive_entry_symlink(*entry) || archive_entry_sparse_count(*entry) > 0)
        return refuse(err, "a link, folder, device or sparse file", "a plain file");
    return archive_entry_size_is_set(*entry) ? BK_OK : refuse(err, "a member without a size", "a size");
}

static bk_status get_manifest(const reader *r, bk_json **manifest, bk_err *err)
{
    struct archive_entry *entry;
    const bk_status status = next_entry(r, &entry, err);
    if (status != BK_OK)
        return status;
    const char *name = entry ? archive_entry_pathname(entry) : NULL;
    if (!name || strcmp(name, MANIFEST) != 0)
        return refuse(err, "another first member", MANIFEST);
    const int64_t size = archive_entry_size(entry);
    if (size > r->size || size < 0)
        return refuse(err, "a manifest that is cut", "a whole one");
    if (size > (int64_t)BK_JSON_BYTES_MAX)
        return bk_fail(err, BK_E_LIMIT,
                       "a manifest of %lld bytes was found in the archive, at most %zu were expected",
                       (long long)size, BK_JSON_BYTES_MAX);
    char *text = malloc((size_t)size + 1);
    if (!text)
        return bk_fail(err, BK_E_INTERNAL, "out of memory at %lld bytes", (long long)size);
    const bool whole = archive_read_data(r->tar, text, (size_t)size) == (la_ssize_t)size;
    const bk_status read = whole ? bk_json_read(text, (size_t)size, manifest, err)
                                 : refuse(err, "a manifest that is cut", "a whole one");
    free(text);
    return read == BK_OK ? BK_OK : bk_fail_in(err, MANIFEST);
}

static bk_status copy_out(const reader *r, const bk_member *m, FILE *out, bk_hash *hash, bk_err *err)
{
    char chunk[64 * 1024];
    int64_t left = m->bytes;
    la_ssize_t n;
    while ((n = archive_read_data(r->tar, chunk, sizeof chunk)) > 0) {
        left -= n;
        if (left < 0)
            return refuse(err, "a member longer than listed", "its listed size");
        bk_hash_add(hash, chunk, (size_t)n);
        if (fwrite(chunk, 1, (size_t)n, out) != (size_t)n)
            return bk__io_fail(err, "written", m->path);
    }
    if (n < 0 || left > 0)
        return refuse(err, "a member that is cut", "its listed size");
    return fflush(out) == 0 ? BK_OK : bk__io_fail(err, "written", m->path);
}

static bk_status get_member(const reader *r, bk_member *m, bk_err *err)
{
    char sha256[65] = "";
    const int fd = open(m->path, O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC, 0600);
    FILE *out = fd >= 0 ? fdopen(fd, "wb") : NULL;
    bk_hash *hash = out ? bk_hash_new() : NULL;
    bk_status status = hash  ? copy_out(r, m, out, hash, err)
                       : out ? bk_fail(err, BK_E_INTERNAL, "out of memory for a hash")
                             : bk__io_fail(err, "written", m->path);
    bk_hash_end(hash, sha256);
    if (out && fclose(out) != 0 && status == BK_OK)
        status = bk__io_fail(err, "written", m->path);
    if (!out && fd >= 0)
        close(fd);
    if (status == BK_OK && strcmp(sha256, m->sha256) != 0)
        status = bk_fail(err, BK_E_DATA, "member %s has another SHA-256 than the manifest lists", m->name);
    return status;
}

static bk_status get_members(const reader *r, const char *folder, bk_members *members, bk_err *err)
{
    struct archive_entry *entry;
    bk_status status = BK_OK;
    for (size_t i = 0; status == BK_OK && i < members->n; i++) {
        bk_member *m = &members->items[i];
        char number[24];
        status = next_entry(r, &entry, err);
        if (status != BK_OK)
            return status;
        const char *name = entry ? archive_entry_pathname(entry) : NULL;
        if (!name || strcmp(name, m->name) != 0)
            return bk_fail(err, BK_E_DATA, "%s was found in the archive, the listed member %s was expected",
                           entry ? "another member" : "the end", m->name);
        if (archive_entry_size(entry) != m->bytes)
            return refuse(err, "a member of another size than listed", "its listed size");
        snprintf(number, sizeof number, "%zu", i);
        m->path = bk__join(folder, number, err);
        status = m->path ? get_member(r, m, err) : BK_E_INTERNAL;
    }
    if (status == BK_OK)
        status = next_entry(r, &entry, err);
    return status == BK_OK && entry ? refuse(err, "a member that is not listed", "the end") : status;
}

static bk_status unpack(const reader *r, const char *folder, bk_json **manifest, bk_members *members,
                        bk_err *err)
{
    bk_status status = get_manifest(r, manifest, err);
    if (status == BK_OK)
        status = read_manifest(r, *manifest, members, err);
    return status == BK_OK ? get_members(r, folder, members, err) : status;
}

bk_status bk_archive_unpack(const char *path, const char *folder, bk_json **manifest, bk_members *members,
                            bk_err *err)
{
    struct stat info;
    *manifest = NULL;
    *members = (bk_members){NULL, 0};
    const int fd = open(path, O_RDONLY | O_CLOEXEC);
    if (fd < 0 || fstat(fd, &info) != 0 || !S_ISREG(info.st_mode)) {
        if (fd >= 0)
            close(fd);
        return fd < 0 ? bk__io_fail(err, "read", path)
                      : bk_fail(err, BK_E_IO, "%s is no plain file, an archive was expected", path);
    }
    const reader r = {archive_read_new(), info.st_size};
    bk_status status = BK_OK;
    /* tar and nothing else: no other format and no decompression can be reached through a hostile file */
    if (!r.tar || archive_read_support_format_tar(r.tar) != ARCHIVE_OK)
        status = bk_fail(err, BK_E_INTERNAL, "out of memory for the archive");
    else if (archive_read_open_fd(r.tar, fd, 64 * 1024) != ARCHIVE_OK)
        status = bk_fail(err, BK_E_DATA, "no tar was found, an uncompressed archive was expected");
    if (status == BK_OK)
        status = unpack(&r, folder, manifest, members, err);
    archive_read_free(r.tar);
    close(fd);
    if (status == BK_OK)
        return BK_OK;
    bk_json_free(*manifest);
    *manifest = NULL;
    bk_members_clear(members);
    return bk_fail_in(err, path);
}
