/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "server/watch.h"

#include <string.h>
#include <sys/socket.h>

#include "server/request.h"

void bk_watch_start(bk_watch *watch)
{
    pthread_mutex_init(&watch->lock, NULL);
    for (size_t i = 0; i < BK_WATCHED_MAX; i++)
        watch->all[i] = (bk_watched){-1, false, 0};
}

static int socket_of(struct MHD_Connection *connection)
{
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    return info ? info->connect_fd : -1;
}

/* Closing is told before the socket is closed, so under the lock a number in the list is never another's. */
void bk_watch_notify(void *context, struct MHD_Connection *connection, void **place,
                     enum MHD_ConnectionNotificationCode code)
{
    bk_watch *watch = context;
    (void)place;
    const int socket = socket_of(connection);
    const bool opens = code == MHD_CONNECTION_NOTIFY_STARTED;
    pthread_mutex_lock(&watch->lock);
    for (size_t i = 0; i < BK_WATCHED_MAX; i++)
        if (watch->all[i].socket == (opens ? -1 : socket)) {
            watch->all[i] = (bk_watched){opens ? socket : -1, false, bk_now_ms()};
            break;
        }
    pthread_mutex_unlock(&watch->lock);
}

void bk_watch_busy(bk_watch *watch, struct MHD_Connection *connection, bool busy)
{
    const int socket = socket_of(connection);
    pthread_mutex_lock(&watch->lock);
    for (size_t i = 0; i < BK_WATCHED_MAX; i++)
        if (watch->all[i].socket == socket)
            watch->all[i] = (bk_watched){socket, busy, bk_now_ms()};
    pthread_mutex_unlock(&watch->lock);
}

void bk_watch_cut(bk_watch *watch)
{
    const int64_t now = bk_now_ms();
    pthread_mutex_lock(&watch->lock);
    for (size_t i = 0; i < BK_WATCHED_MAX; i++) {
        const bk_watched *w = &watch->all[i];
        if (w->socket >= 0 && !w->busy && now - w->waiting_since_ms > 1000 * BK_HEADER_SECONDS)
            shutdown(w->socket, SHUT_RDWR);
    }
    pthread_mutex_unlock(&watch->lock);
}
