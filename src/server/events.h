/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The event stream (server-sent events): what changed in the store, and a beat, so that a page notices when
   the server has gone. A page that does not read is let go: nothing is kept for it beyond a small buffer. */
#ifndef BK_SERVER_EVENTS_H
#define BK_SERVER_EVENTS_H

#include <microhttpd.h>
#include <pthread.h>
#include <stdbool.h>

#include "base/json.h"

#define BK_STREAMS_MAX 8

typedef struct bk_stream bk_stream;

typedef struct bk_events {
    pthread_mutex_t lock;
    bk_stream *streams;
    int n;
    bool ending;
} bk_events;

void bk_events_start(bk_events *events);
/** The response of one more stream; NULL when there are too many, or the server is ending. */
struct MHD_Response *bk_events_join(bk_events *events, struct MHD_Connection *connection);
/** Tell all streams; name is a plain word. data is taken over. */
void bk_events_tell(bk_events *events, const char *name, bk_json *data);
void bk_events_beat(bk_events *events);
/** Wake all streams so that they close, and let none in any more. */
void bk_events_end(bk_events *events);

#endif
