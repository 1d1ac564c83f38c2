/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Connections that take too long over their headers. The library closes connections on which nothing comes;
   one that sends a byte now and then would stay for ever, and 64 of them would shut everybody out. */
#ifndef BK_SERVER_WATCH_H
#define BK_SERVER_WATCH_H

#include <microhttpd.h>
#include <pthread.h>
#include <stdbool.h>
#include <stdint.h>

#define BK_WATCHED_MAX 128
#define BK_HEADER_SECONDS                                                                                    \
    20 /* from the connection, or the end of the request before, to the end of the headers */

typedef struct bk_watched {
    int socket; /* -1: free */
    bool busy;  /* has sent its headers, is being answered */
    int64_t waiting_since_ms;
} bk_watched;

typedef struct bk_watch {
    pthread_mutex_t lock;
    bk_watched all[BK_WATCHED_MAX];
} bk_watch;

void bk_watch_start(bk_watch *watch);
/** For MHD_OPTION_NOTIFY_CONNECTION, with the watch as context. */
void bk_watch_notify(void *watch, struct MHD_Connection *connection, void **place,
                     enum MHD_ConnectionNotificationCode code);
/** The connection's headers are complete / its request is over. */
void bk_watch_busy(bk_watch *watch, struct MHD_Connection *connection, bool busy);
/** Cut those that took too long. */
void bk_watch_cut(bk_watch *watch);

#endif
