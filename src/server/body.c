/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "server/body.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/format.h"
#include "base/number.h"

static const char *header(const bk_request *request, const char *name)
{
    return MHD_lookup_connection_value(request->connection, MHD_HEADER_KIND, name);
}

static uint64_t cap(const bk_request *request)
{
    static const uint64_t caps[] = {
        [BK_BODY_NONE] = 0, [BK_BODY_JSON] = BK_BODY_JSON_MAX, [BK_BODY_FILE] = BK_BODY_FILE_MAX};
    return caps[request->route->body];
}

/* "application/json; charset=utf-8" is one, too */
static bool type_is(const bk_request *request, const char *wanted)
{
    const char *type = header(request, "Content-Type");
    const size_t n = strlen(wanted);
    return type && strncmp(type, wanted, n) == 0 && strspn(type + n, " ;") + (type[n] == '\0') > 0;
}

bool bk_body_expect(bk_request *request)
{
    static const char *const types[] = {
        [BK_BODY_JSON] = "application/json", [BK_BODY_FILE] = "application/dicom"};
    const char *announced = header(request, "Content-Length");
    int64_t length = 0;
    if (announced && (!bk_integer_read(announced, strlen(announced), &length) || length < 0)) {
        bk_reply_error(request, 400, "a Content-Length that is no number was found");
    } else if (!announced && request->route->body != BK_BODY_NONE) {
        bk_reply_error(request, 411, "no Content-Length was found, one was expected");
    } else if ((uint64_t)length > cap(request)) {
        bk_reply_error(request, 413, "a body of %lld bytes was found, at most %llu were expected",
                       (long long)length, (unsigned long long)cap(request));
    } else if (request->route->body != BK_BODY_NONE && !type_is(request, types[request->route->body])) {
        bk_reply_error(request, 415, "another Content-Type was found, %s was expected",
                       types[request->route->body]);
    } else {
        return true;
    }
    return false;
}

static bool open_file(bk_request *request)
{
    const char *folder = getenv("TMPDIR");
    bk_format(request->file_path, sizeof request->file_path, "%s/branchkeep-upload-XXXXXX",
              folder && *folder ? folder : "/var/tmp");
    request->file = mkstemp(request->file_path); /* readable by its owner only */
    if (request->file >= 0)
        return true;
    request->file_path[0] = '\0';
    bk_reply_error(request, 507, "no temporary file could be made (%s)", strerror(errno));
    return false;
}

static void take_file(bk_request *request, const char *bytes, size_t n)
{
    if (request->file < 0 && !open_file(request))
        return;
    while (n > 0) {
        const ssize_t written = write(request->file, bytes, n);
        if (written < 0 && errno == EINTR)
            continue;
        if (written <= 0) {
            bk_reply_error(request, 507, "the upload could not be written (%s)", strerror(errno));
            return;
        }
        bytes += written;
        n -= (size_t)written;
    }
}

static void take_json(bk_request *request, const char *bytes, size_t n)
{
    const size_t had = (size_t)request->body_n - n;
    if (request->body_n + 1 > request->body_room) {
        request->body_room = 2 * (size_t)request->body_n + 4096;
        char *grown = realloc(request->body, request->body_room);
        if (!grown) {
            bk_reply_error(request, 500, "out of memory for the body");
            return;
        }
        request->body = grown;
    }
    memcpy(request->body + had, bytes, n);
    request->body[had + n] = '\0';
}

static bool too_slow(const bk_request *request)
{
    const int64_t seconds = (bk_now_ms() - request->started_ms) / 1000;
    if (seconds <= BK_BODY_SECONDS)
        return false;
    return request->route->body != BK_BODY_FILE ||
           request->body_n < (uint64_t)seconds * BK_UPLOAD_BYTES_PER_S;
}

void bk_body_take(bk_request *request, const char *bytes, size_t n)
{
    request->body_n += n;
    if (request->body_n > cap(request))
        bk_reply_error(request, 413, "a longer body was found, at most %llu bytes were expected",
                       (unsigned long long)cap(request));
    else if (too_slow(request))
        bk_reply_error(request, 408, "the body came too slowly");
    else if (request->route->body == BK_BODY_FILE)
        take_file(request, bytes, n);
    else
        take_json(request, bytes, n);
}

bool bk_body_whole(const bk_request *request)
{
    const char *announced = header(request, "Content-Length");
    int64_t length = 0;
    return !announced ||
           (bk_integer_read(announced, strlen(announced), &length) && (uint64_t)length == request->body_n);
}

void bk_body_drop(bk_request *request)
{
    if (request->file >= 0)
        close(request->file);
    if (request->file_path[0])
        unlink(request->file_path);
    request->file = -1;
    request->file_path[0] = '\0';
    free(request->body);
    request->body = NULL;
}
