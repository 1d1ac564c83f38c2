/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "server/http.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "base/format.h"
#include "server/body.h"

#define HEADERS_MAX ((size_t)32 * 1024)

/* Where the time of this answer went, for bench/: waiting for its lane, and working. */
static void add_timing(const bk_request *request, struct MHD_Response *response)
{
    char text[80];
    if (!request->begun_us)
        return;
    bk_format(text, sizeof text, "wait;dur=%.2f, work;dur=%.2f",
              (double)(request->begun_us - request->whole_us) / 1000,
              (double)(bk_now_us() - request->begun_us) / 1000);
    MHD_add_response_header(response, "Server-Timing", text);
}

static void add_headers(const bk_request *request, struct MHD_Response *response)
{
    static const char *const always[][2] = {
        {"Content-Security-Policy",
         "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
         "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"},
        {"X-Content-Type-Options", "nosniff"},
        {"Referrer-Policy", "no-referrer"},
        {"Cross-Origin-Resource-Policy", "same-origin"},
        {"Cross-Origin-Opener-Policy", "same-origin"},
        {"X-Frame-Options", "DENY"},
    };
    for (size_t i = 0; i < sizeof always / sizeof always[0]; i++)
        MHD_add_response_header(response, always[i][0], always[i][1]);
    /* the page's own files may be kept and asked about again; a patient's data are kept nowhere */
    MHD_add_response_header(response, "Cache-Control", request->etag[0] ? "no-cache" : "no-store");
    MHD_add_response_header(response, "Content-Type",
                            request->streams ? "text/event-stream"
                            : request->type  ? request->type
                                             : "application/json");
    if (request->etag[0])
        MHD_add_response_header(response, "ETag", request->etag);
    if (request->cookie[0])
        MHD_add_response_header(response, "Set-Cookie", request->cookie);
    add_timing(request, response);
}

static struct MHD_Response *response_of(bk_request *request)
{
    if (request->streams) {
        struct MHD_Response *response = bk_events_join(&request->server->events, request->connection);
        if (response)
            return response;
        request->streams = false;
        bk_reply_error(request, 503, "%d event streams are open, no more are given", BK_STREAMS_MAX);
    }
    if (request->borrowed) {
        /* the library does not write to it, but has no type for that */
        union {
            const void *from;
            void *to;
        } bytes = {.from = request->borrowed};
        return MHD_create_response_from_buffer(request->reply_n, bytes.to, MHD_RESPMEM_PERSISTENT);
    }
    void *bytes = request->reply;
    request->reply = NULL;
    return MHD_create_response_from_buffer(bytes ? request->reply_n : 0, bytes, MHD_RESPMEM_MUST_FREE);
}

static enum MHD_Result answer(bk_request *request)
{
    struct MHD_Response *response = response_of(request);
    if (!response)
        return MHD_NO;
    add_headers(request, response);
    const enum MHD_Result queued = MHD_queue_response(request->connection, request->code, response);
    MHD_destroy_response(response);
    return queued;
}

/* The one who asked has gone: a read finds the end. While suspended the library does not look. */
static bool client_gone(const bk_request *request)
{
    char byte;
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(request->connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    const ssize_t n = recv(info->connect_fd, &byte, 1, MSG_PEEK | MSG_DONTWAIT);
    return n == 0 || (n < 0 && errno != EAGAIN && errno != EWOULDBLOCK && errno != EINTR);
}

static void run_task(bk_task *task, const char *dropped)
{
    bk_request *request = (bk_request *)task;
    if (dropped) {
        bk_reply_error(request, task->overtaken ? 409 : 503, "%s", dropped);
    } else if (client_gone(request)) {
        bk_reply_error(request, 409, "the one who asked has gone");
    } else {
        request->begun_us = bk_now_us();
        request->route->run(request);
    }
    MHD_resume_connection(request->connection);
}

/* The request is whole: do it here, or hand it to its lane and be called again. */
static enum MHD_Result dispatch(bk_request *request)
{
    const bk_route *route = request->route;
    if (route->lane == BK_HERE) {
        route->run(request);
        return answer(request);
    }
    request->task.run = run_task;
    request->task.kind = route->newest_only && request->page[0] ? route : NULL;
    request->task.owner = request->page;
    request->whole_us = bk_now_us();
    MHD_suspend_connection(request->connection);
    if (bk_lane_push(request->server->lanes[route->lane], &request->task))
        return MHD_YES;
    bk_reply_error(request, 503, "too much work is waiting, or the server is ending");
    MHD_resume_connection(request->connection);
    return MHD_YES;
}

static bk_request *new_request(bk_server *server, struct MHD_Connection *connection)
{
    bk_request *request = calloc(1, sizeof *request);
    if (!request)
        return NULL;
    request->server = server;
    request->connection = connection;
    request->file = -1;
    request->started_ms = bk_now_ms();
    atomic_fetch_add(&server->open_requests, 1);
    return request;
}

static enum MHD_Result handle(void *context, struct MHD_Connection *connection, const char *url,
                              const char *method, const char *version, const char *data, size_t *data_n,
                              void **place)
{
    bk_request *request = *place;
    (void)version;
    if (!request) { /* headers only, so far */
        request = *place = new_request(context, connection);
        if (!request)
            return MHD_NO;
        bk_watch_busy(&request->server->watch, connection, true);
        return bk_request_guard(request, url, method) ? MHD_YES : answer(request);
    }
    if (*data_n > 0) {
        if (!request->code)
            bk_body_take(request, data, *data_n);
        *data_n = 0;
        return request->code == 408 ? MHD_NO : MHD_YES; /* the rest of a slow body is not waited for */
    }
    if (!request->code && !bk_body_whole(request))
        bk_reply_error(request, 400, "a body that ends early was found");
    return request->code ? answer(request) : dispatch(request);
}

static void completed(void *context, struct MHD_Connection *connection, void **place,
                      enum MHD_RequestTerminationCode why)
{
    (void)why;
    bk_server *server = context;
    bk_request *request = *place;
    bk_watch_busy(&server->watch, connection, false);
    if (!request)
        return;
    atomic_fetch_sub(&server->open_requests, 1);
    bk_body_drop(request);
    free(request->reply);
    free(request);
    *place = NULL;
}

/* A zero byte in an address would end it early: "/x%00y" is not "/x". */
static size_t unescape(void *context, struct MHD_Connection *connection, char *text)
{
    (void)context;
    (void)connection;
    const size_t n = MHD_http_unescape(text);
    for (char *zero = memchr(text, '\0', n); zero; zero = memchr(zero, '\0', n - (size_t)(zero - text)))
        *zero = '?';
    return n;
}

bk_status bk_http_listen(int *port, int *out, bk_err *err)
{
    const int s = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    const int yes = 1;
    struct sockaddr_in address = {
        .sin_family = AF_INET, .sin_port = htons((uint16_t)*port), .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t n = sizeof address;
    *out = s;
    if (s >= 0 && setsockopt(s, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes) == 0 &&
        bind(s, (struct sockaddr *)&address, n) == 0 && listen(s, BK_CONNECTIONS_MAX) == 0 &&
        getsockname(s, (struct sockaddr *)&address, &n) == 0) {
        *port = ntohs(address.sin_port);
        return BK_OK;
    }
    bk_fail(err, BK_E_IO, "port %d of 127.0.0.1 cannot be had (%s), a free one was expected", *port,
            strerror(errno));
    if (s >= 0)
        close(s);
    return BK_E_IO;
}

bk_status bk_http_start(bk_server *server, int s, bk_err *err)
{
    server->daemon = MHD_start_daemon(
        MHD_USE_EPOLL_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME | MHD_USE_ITC, 0, NULL, NULL, handle, server,
        MHD_OPTION_LISTEN_SOCKET, s, MHD_OPTION_CONNECTION_LIMIT, (unsigned)BK_CONNECTIONS_MAX,
        MHD_OPTION_CONNECTION_TIMEOUT, (unsigned)BK_IDLE_SECONDS, MHD_OPTION_CONNECTION_MEMORY_LIMIT,
        HEADERS_MAX, MHD_OPTION_STRICT_FOR_CLIENT, 1, MHD_OPTION_UNESCAPE_CALLBACK, unescape, NULL,
        MHD_OPTION_NOTIFY_COMPLETED, completed, server, MHD_OPTION_NOTIFY_CONNECTION, bk_watch_notify,
        &server->watch, MHD_OPTION_END);
    if (server->daemon)
        return BK_OK;
    close(s);
    return bk_fail(err, BK_E_INTERNAL, "the HTTP server could not be started");
}

void bk_http_stop(bk_server *server)
{
    if (server->daemon)
        MHD_stop_daemon(server->daemon);
}
