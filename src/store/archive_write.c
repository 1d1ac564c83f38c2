/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "store/archive_file.h"

#include <archive.h>
#include <archive_entry.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/file.h"
#include "store/inside.h"

bk_status bk_members_add(bk_members *members, const char *name, char *path, char *text, bk_err *err)
{
    bk_member *larger = realloc(members->items, (members->n + 1) * sizeof *larger);
    if (larger)
        members->items = larger;
    char *own = larger ? strdup(name) : NULL;
    if (!own) {
        free(path);
        free(text);
        return bk_fail(err, BK_E_INTERNAL, "out of memory for %zu members", members->n + 1);
    }
    members->items[members->n++] = (bk_member){.name = own, .path = path, .text = text};
    return BK_OK;
}

void bk_members_clear(bk_members *members)
{
    for (size_t i = 0; i < members->n; i++) {
        free(members->items[i].name);
        free(members->items[i].path);
        free(members->items[i].text);
    }
    free(members->items);
    *members = (bk_members){NULL, 0};
}

static bk_status measure(bk_member *m, bk_err *err)
{
    char sha256[65];
    struct stat info = {0};
    bk_status status = BK_OK;
    if (m->text)
        bk_sha256(m->text, strlen(m->text), sha256);
    else
        status = bk_file_sha256(m->path, sha256, err);
    if (status == BK_OK && m->path && stat(m->path, &info) != 0)
        status = bk__io_fail(err, "read", m->path);
    if (status == BK_OK && m->sha256[0] && strcmp(m->sha256, sha256) != 0)
        status =
            bk_fail(err, BK_E_DATA, "%s is broken: its content has another SHA-256 than expected", m->name);
    m->bytes = m->text ? (int64_t)strlen(m->text) : (int64_t)info.st_size;
    memcpy(m->sha256, sha256, sizeof sha256);
    return status;
}

static bk_status list_members(bk_json *manifest, bk_members *members, bk_err *err)
{
    if (members->n > BK_ARCHIVE_MEMBERS_MAX)
        return bk_fail(err, BK_E_LIMIT, "%zu members were found for one archive, at most %d fit", members->n,
                       BK_ARCHIVE_MEMBERS_MAX);
    bk_json *list = bk_json_array();
    bk_status status = BK_OK;
    for (size_t i = 0; status == BK_OK && i < members->n; i++) {
        bk_json *item = bk_json_object();
        status = measure(&members->items[i], err);
        bk_json_put_text(item, "name", members->items[i].name);
        bk_json_put_integer(item, "bytes", members->items[i].bytes);
        bk_json_put_text(item, "sha256", members->items[i].sha256);
        bk_json_push(list, item);
    }
    bk_json_put(manifest, "members", list);
    return status;
}

typedef struct writer {
    struct archive *tar;
    const char *path;
    int fd;
    int reason; /* errno of the first write that failed; 0: none has */
} writer;

/* Always claims success: after a failed write libarchive would not free its buffer. The reason is kept and
   asked for after each step. */
static la_ssize_t write_block(struct archive *tar, void *context, const void *bytes, size_t n)
{
    writer *w = context;
    const char *at = bytes;
    (void)tar;
    for (size_t left = n; left > 0 && !w->reason;) {
        const ssize_t done = write(w->fd, at, left);
        if (done < 0 && errno == EINTR)
            continue;
        if (done <= 0) {
            w->reason = done < 0 ? errno : EIO;
            break;
        }
        at += done;
        left -= (size_t)done;
    }
    return (la_ssize_t)n;
}

static bk_status step(const writer *w, bool done, bk_err *err)
{
    if (done && !w->reason)
        return BK_OK;
    const int code = archive_errno(w->tar);
    errno = w->reason ? w->reason : code > 0 ? code : EIO;
    return bk__io_fail(err, "written", w->path);
}

static bk_status put_header(const writer *w, const char *name, int64_t bytes, bk_err *err)
{
    struct archive_entry *entry = archive_entry_new();
    if (!entry)
        return bk_fail(err, BK_E_INTERNAL, "out of memory for a member of the archive");
    archive_entry_set_pathname(entry, name);
    archive_entry_set_size(entry, bytes);
    archive_entry_set_filetype(entry, AE_IFREG);
    archive_entry_set_perm(entry, 0600); /* no owner, no time: the same content gives the same bytes */
    archive_entry_set_mtime(entry, 0, 0);
    const int code = archive_write_header(w->tar, entry);
    archive_entry_free(entry);
    return step(w, code == ARCHIVE_OK, err);
}

static bk_status put_bytes(const writer *w, const char *bytes, size_t n, bk_err *err)
{
    return step(w, archive_write_data(w->tar, bytes, n) == (la_ssize_t)n, err);
}

static bk_status put_text(const writer *w, const char *name, const char *text, size_t n, bk_err *err)
{
    const bk_status status = put_header(w, name, (int64_t)n, err);
    return status == BK_OK ? put_bytes(w, text, n, err) : status;
}

static bk_status put_file(const writer *w, const bk_member *m, bk_err *err)
{
    char chunk[64 * 1024], sha256[65] = "";
    size_t n;
    bk_status status = put_header(w, m->name, m->bytes, err);
    if (status != BK_OK)
        return status;
    FILE *file = fopen(m->path, "rbe");
    bk_hash *hash = file ? bk_hash_new() : NULL;
    if (!file)
        status = bk__io_fail(err, "read", m->path);
    else if (!hash)
        status = bk_fail(err, BK_E_INTERNAL, "out of memory for a hash");
    while (status == BK_OK && (n = fread(chunk, 1, sizeof chunk, file)) > 0) {
        bk_hash_add(hash, chunk, n);
        status = put_bytes(w, chunk, n, err);
    }
    bk_hash_end(hash, sha256);
    if (file)
        fclose(file);
    if (status == BK_OK && strcmp(sha256, m->sha256) != 0)
        status = bk_fail(err, BK_E_IO, "%s changed while it was read, a file at rest was expected", m->name);
    return status;
}

static bk_status put_all(const writer *w, const bk_json *manifest, const bk_members *members, bk_err *err)
{
    char *text;
    size_t n;
    bk_status status = bk_json_write(manifest, &text, &n, err);
    if (status != BK_OK)
        return status;
    status = put_text(w, "MANIFEST.json", text, n, err);
    bk_json_text_free(text);
    for (size_t i = 0; status == BK_OK && i < members->n; i++) {
        const bk_member *m = &members->items[i];
        status = m->text ? put_text(w, m->name, m->text, (size_t)m->bytes, err) : put_file(w, m, err);
    }
    return status;
}

static bk_status write_tar(int fd, const char *path, const bk_json *manifest, const bk_members *members,
                           bk_err *err)
{
    writer w = {archive_write_new(), path, fd, 0};
    if (!w.tar)
        return bk_fail(err, BK_E_INTERNAL, "out of memory for the archive");
    bk_status status = step(&w,
                            archive_write_set_format_ustar(w.tar) == ARCHIVE_OK &&
                                archive_write_open(w.tar, &w, NULL, write_block, NULL) == ARCHIVE_OK,
                            err);
    if (status == BK_OK)
        status = put_all(&w, manifest, members, err);
    if (status == BK_OK)
        status = step(&w, archive_write_close(w.tar) == ARCHIVE_OK, err);
    archive_write_free(w.tar);
    return status == BK_OK && fsync(fd) != 0 ? bk__io_fail(err, "written", path) : status;
}

static bk_status sync_above(const char *path, bk_err *err)
{
    const char *slash = strrchr(path, '/');
    if (!slash)
        return bk__sync_folder(".", err);
    char *folder = strndup(path, slash == path ? 1 : (size_t)(slash - path));
    const bk_status status =
        folder ? bk__sync_folder(folder, err) : bk_fail(err, BK_E_INTERNAL, "out of memory");
    free(folder);
    return status;
}

bk_status bk_archive_write(const char *path, bk_json *manifest, bk_members *members, bk_err *err)
{
    bk_status status = list_members(manifest, members, err);
    if (status != BK_OK)
        return status;
    const size_t room = strlen(path) + 8;
    char *beside = malloc(room);
    if (!beside)
        return bk_fail(err, BK_E_INTERNAL, "out of memory at %zu bytes", room);
    snprintf(beside, room, "%s.XXXXXX", path);
    const int fd = mkstemp(beside); /* mode 0600: it holds a patient's pictures */
    status = fd >= 0 ? write_tar(fd, path, manifest, members, err) : bk__io_fail(err, "written", path);
    if (fd >= 0 && close(fd) != 0 && status == BK_OK)
        status = bk__io_fail(err, "written", path);
    if (status == BK_OK && rename(beside, path) != 0)
        status = bk__io_fail(err, "written", path);
    if (status != BK_OK && fd >= 0)
        unlink(beside);
    free(beside);
    return status == BK_OK ? sync_above(path, err) : status;
}
