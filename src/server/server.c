/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "server/server.h"

#include <pthread.h>
#include <signal.h>
#include <string.h>
#include <time.h>

#include "app/cine.h"
#include "app/shelf.h"
#include "server/http.h"

#define FAREWELL_MS 1500
#define SHELF_MEMORY ((size_t)16 * 1024 * 1024)

/* A faulty stock list stops the start; it is read anew for each answer, so that a mended one takes effect. */
static bk_status check_shelf(const char *file, bk_err *err)
{
    bk_arena arena;
    bk_stock stock;
    bool found;
    if (!file)
        return BK_OK;
    bk_arena_init(&arena, SHELF_MEMORY);
    const bk_status status = bk_app_shelf_read(file, "", &arena, &stock, &found, err);
    bk_arena_clear(&arena);
    return status;
}

static bk_status start(bk_server *server, const bk_serve_options *options, bk_err *err)
{
    int port = options->port, socket = -1;
    server->shelf_file = options->shelf;
    bk_cine_ready();
    bk_json_free(bk_json_object()); /* the JSON library seeds itself at the first object */
    bk_events_start(&server->events);
    bk_watch_start(&server->watch);
    bk_shelf_start(&server->shelf);
    pthread_mutex_init(&server->cases_lock, NULL);
    bk_status status = check_shelf(options->shelf, err);
    if (status == BK_OK)
        status = bk_cases_open(options->data, &server->cases, err);
    for (int i = 0; status == BK_OK && i < BK_LANES; i++)
        status = bk_lane_start(&server->lanes[i], i == BK_PICTURES ? BK_PICTURE_THREADS : 1, err);
    if (status == BK_OK)
        status = bk_http_listen(&port, &socket, err);
    if (status == BK_OK)
        status = bk_guard_start(&server->guard, port, err);
    if (status == BK_OK)
        status = bk_http_start(server, socket, err);
    return status;
}

/* Nothing may be suspended when the library is stopped: lanes first, they answer what waits. */
static void stop(bk_server *server)
{
    for (int i = 0; i < BK_LANES; i++)
        bk_lane_stop(server->lanes[i]);
    bk_events_end(&server->events);
    /* stopping the library closes connections whose answer is ready and not sent yet */
    const struct timespec moment = {0, 5000000};
    for (int64_t end = bk_now_ms() + FAREWELL_MS;
         atomic_load(&server->open_requests) > 0 && bk_now_ms() < end;)
        nanosleep(&moment, NULL);
    bk_http_stop(server);
    bk_shelf_end(&server->shelf);
    bk_cases_close(server->cases);
}

/* Once a second until a signal comes. */
static void keep_time(bk_server *server, const sigset_t *signals)
{
    const struct timespec second = {1, 0};
    for (int i = 1; sigtimedwait(signals, NULL, &second) < 0; i++) {
        bk_watch_cut(&server->watch);
        if (i % BK_BEAT_SECONDS == 0)
            bk_events_beat(&server->events);
    }
}

bk_status bk_serve(const bk_serve_options *options, bk_err *err)
{
    static bk_server server; /* large, and there is one */
    sigset_t signals, before;
    sigemptyset(&signals);
    sigaddset(&signals, SIGINT);
    sigaddset(&signals, SIGTERM);
    /* before any thread starts, so that all have it blocked and only keep_time takes it */
    pthread_sigmask(SIG_BLOCK, &signals, &before);
    signal(SIGPIPE, SIG_IGN);
    memset(&server, 0, sizeof server);
    const bk_status status = start(&server, options, err);
    if (status == BK_OK) {
        fprintf(options->out, "http://127.0.0.1:%d/#token=%s\n", server.guard.port, server.guard.token);
        fflush(options->out);
        keep_time(&server, &signals);
    }
    stop(&server);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return status;
}
