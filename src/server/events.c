/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "server/events.h"

#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>

#include "base/format.h"

#define ROOM 8192

struct bk_stream {
    bk_stream *next;
    bk_events *events;
    struct MHD_Connection *connection;
    bool asleep; /* suspended: suspending twice is undefined, so this is kept exactly */
    bool lost;   /* its buffer overflowed */
    size_t n;
    char text[ROOM];
};

void bk_events_start(bk_events *events)
{
    memset(events, 0, sizeof *events);
    pthread_mutex_init(&events->lock, NULL);
}

/* Called by the HTTP thread when it could send. */
static ssize_t give(void *context, uint64_t at, char *out, size_t max)
{
    (void)at;
    bk_stream *stream = context;
    ssize_t given = 0;
    pthread_mutex_lock(&stream->events->lock);
    if (stream->events->ending || stream->lost) {
        given = MHD_CONTENT_READER_END_OF_STREAM;
    } else if (stream->n > 0) {
        const size_t n = stream->n < max ? stream->n : max;
        memcpy(out, stream->text, n);
        memmove(stream->text, stream->text + n, stream->n - n);
        stream->n -= n;
        given = (ssize_t)n;
    } else {
        stream->asleep = true;
        MHD_suspend_connection(stream->connection);
    }
    pthread_mutex_unlock(&stream->events->lock);
    return given;
}

static void leave(void *context)
{
    bk_stream *stream = context;
    bk_events *events = stream->events;
    pthread_mutex_lock(&events->lock);
    for (bk_stream **at = &events->streams; *at; at = &(*at)->next)
        if (*at == stream) {
            *at = stream->next;
            events->n--;
            break;
        }
    pthread_mutex_unlock(&events->lock);
    free(stream);
}

static void wake(bk_stream *stream)
{
    if (!stream->asleep)
        return;
    stream->asleep = false;
    MHD_resume_connection(stream->connection);
}

/* A page that was closed: while its connection is suspended the library does not look, and a first write to
   it would still succeed. */
static bool gone(const bk_stream *stream)
{
    char byte;
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(stream->connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    return recv(info->connect_fd, &byte, 1, MSG_PEEK | MSG_DONTWAIT) == 0;
}

static void add(bk_stream *stream, const char *text, size_t n)
{
    if ((stream->asleep && gone(stream)) || n > sizeof stream->text - stream->n) {
        stream->lost = true;
    } else {
        memcpy(stream->text + stream->n, text, n);
        stream->n += n;
    }
    wake(stream);
}

struct MHD_Response *bk_events_join(bk_events *events, struct MHD_Connection *connection)
{
    static const char hello[] = "retry: 1000\nevent: hello\ndata: {}\n\n";
    bk_stream *stream = calloc(1, sizeof *stream);
    if (!stream)
        return NULL;
    stream->events = events;
    stream->connection = connection;
    memcpy(stream->text, hello, sizeof hello - 1);
    stream->n = sizeof hello - 1;
    pthread_mutex_lock(&events->lock);
    const bool room = !events->ending && events->n < BK_STREAMS_MAX;
    if (room) {
        stream->next = events->streams;
        events->streams = stream;
        events->n++;
    }
    pthread_mutex_unlock(&events->lock);
    if (!room) {
        free(stream);
        return NULL;
    }
    struct MHD_Response *response =
        MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, 1024, give, stream, leave);
    if (!response)
        leave(stream);
    return response;
}

static void tell(bk_events *events, const char *text, size_t n)
{
    pthread_mutex_lock(&events->lock);
    for (bk_stream *stream = events->streams; stream; stream = stream->next)
        add(stream, text, n);
    pthread_mutex_unlock(&events->lock);
}

void bk_events_tell(bk_events *events, const char *name, bk_json *data)
{
    char *json, text[ROOM / 4];
    size_t n;
    bk_err ignored = {0};
    if (bk_json_write(data, &json, &n, &ignored) == BK_OK) {
        for (size_t i = 0; i < n; i++) /* an event's data is one line */
            if (json[i] == '\n')
                json[i] = ' ';
        if (n < sizeof text - 100) {
            bk_format(text, sizeof text, "event: %s\ndata: %s\n\n", name, json);
            tell(events, text, strlen(text));
        }
        bk_json_text_free(json);
    }
    bk_json_free(data);
}

void bk_events_beat(bk_events *events)
{
    static const char beat[] = "event: beat\ndata: {}\n\n";
    tell(events, beat, sizeof beat - 1);
}

void bk_events_end(bk_events *events)
{
    pthread_mutex_lock(&events->lock);
    events->ending = true;
    for (bk_stream *stream = events->streams; stream; stream = stream->next)
        wake(stream);
    pthread_mutex_unlock(&events->lock);
}
