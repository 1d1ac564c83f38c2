/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "server/request.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/format.h"
#include "base/number.h"
#include "server/body.h"

int64_t bk_now_us(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

int64_t bk_now_ms(void)
{
    return bk_now_us() / 1000;
}

/* ---- replies ---- */

void bk_reply_json(bk_request *request, unsigned code, bk_json *json)
{
    char *text;
    size_t n;
    bk_err err = {0};
    const bk_status status = bk_json_write(json, &text, &n, &err);
    bk_json_free(json);
    free(request->reply);
    request->reply = NULL;
    request->code = code;
    request->reply_n = 0;
    if (status == BK_OK) {
        request->reply = malloc(n);
        if (request->reply) {
            memcpy(request->reply, text, n);
            request->reply_n = n;
        }
        bk_json_text_free(text);
    }
    if (!request->reply)
        request->code = 500;
}

void bk_reply_error(bk_request *request, unsigned code, const char *format, ...)
{
    char message[256];
    va_list args;
    va_start(args, format);
    bk_format_list(message, sizeof message, format, args);
    va_end(args);
    bk_json *json = bk_json_object();
    bk_json_put_text(json, "error", message);
    bk_reply_json(request, code, json);
}

void bk_reply_status(bk_request *request, const bk_err *err)
{
    static const unsigned codes[] = {
        [BK_OK] = 200,        [BK_E_USAGE] = 400, [BK_E_DATA] = 422,    [BK_E_IO] = 507,
        [BK_E_NOTHING] = 404, [BK_E_LIMIT] = 413, [BK_E_INTERNAL] = 500};
    bk_reply_error(request, codes[err->status], "%s", err->message);
}

bk_json *bk_request_json(bk_request *request)
{
    bk_json *json = NULL;
    bk_err err = {0};
    if (bk_json_read(request->body ? request->body : "", (size_t)request->body_n, &json, &err) != BK_OK)
        bk_reply_error(request, 400, "%s", err.message);
    return json;
}

/* ---- who may ask what ---- */

static const char *header(const bk_request *request, const char *name)
{
    return MHD_lookup_connection_value(request->connection, MHD_HEADER_KIND, name);
}

bool bk_path_fits(const char *pattern, const char *path, char out[BK_PARTS_MAX][BK_PART_TEXT])
{
    int part = 0;
    while (*pattern) {
        if (*pattern != '*') {
            if (*pattern++ != *path++)
                return false;
            continue;
        }
        const size_t n = strcspn(path, "/");
        if (n == 0 || n >= BK_PART_TEXT || part >= BK_PARTS_MAX)
            return false;
        memcpy(out[part], path, n);
        out[part++][n] = '\0';
        path += n;
        pattern++;
    }
    return *path == '\0';
}

static bool find_route(bk_request *request, const char *url, const char *method)
{
    bool path_known = false;
    for (size_t i = 0; i < bk_routes_n; i++) {
        if (!bk_path_fits(bk_routes[i].pattern, url, request->part))
            continue;
        path_known = true;
        if (strcmp(bk_routes[i].method, method) == 0) {
            request->route = &bk_routes[i];
            return true;
        }
    }
    bk_reply_error(request, path_known ? 405 : 404,
                   path_known ? "another method was expected here" : "there is nothing at this address");
    return false;
}

static void read_query(bk_request *request)
{
    const char *page = header(request, "X-Page");
    const char *id = MHD_lookup_connection_value(request->connection, MHD_GET_ARGUMENT_KIND, "case");
    const char *revision =
        MHD_lookup_connection_value(request->connection, MHD_GET_ARGUMENT_KIND, "revision");
    int64_t number = 0;
    bk_format(request->page, sizeof request->page, "%s", page ? page : "");
    bk_format(request->case_id, sizeof request->case_id, "%s", id ? id : "");
    if (revision && bk_integer_read(revision, strlen(revision), &number) && number >= 0 && number < INT32_MAX)
        request->revision = (int)number;
}

/* Before anything else, and for every method and address. */
static bool comes_from_here(bk_request *request, const char *method)
{
    const bk_guard *guard = &request->server->guard;
    const char *origin = header(request, "Origin"), *site = header(request, "Sec-Fetch-Site");
    const bool reads = strcmp(method, "GET") == 0;
    if (!bk_guard_host(guard, header(request, "Host")))
        bk_reply_error(request, 403, "another Host was found, 127.0.0.1:%d was expected", guard->port);
    else if (origin ? !bk_guard_origin(guard, origin) : !reads)
        bk_reply_error(request, 403, "%s Origin was found, http://127.0.0.1:%d was expected",
                       origin ? "another" : "no", guard->port);
    else if (site && !reads && strcmp(site, "same-origin") != 0)
        bk_reply_error(request, 403, "a request of another site was found, one of this page was expected");
    else
        return true;
    return false;
}

bool bk_request_guard(bk_request *request, const char *url, const char *method)
{
    request->url = url;
    if (!comes_from_here(request, method) || !find_route(request, url, method))
        return false;
    if (!request->route->open && !bk_guard_cookie(&request->server->guard, header(request, "Cookie"))) {
        bk_reply_error(
            request, 401,
            "no valid session was found, the address that `branchkeep serve` printed was expected");
        return false;
    }
    read_query(request);
    return bk_body_expect(request);
}
