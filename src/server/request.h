/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One request on its way: read and guarded by the HTTP thread (http.c), worked on by a lane (lane.c) or at
   once, answered by the HTTP thread. While a lane has it, its connection is suspended and only the lane
   touches it. */
#ifndef BK_SERVER_REQUEST_H
#define BK_SERVER_REQUEST_H

#include <microhttpd.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>

#include "app/cases.h"
#include "base/json.h"
#include "server/events.h"
#include "server/guard.h"
#include "server/lane.h"
#include "server/shelf.h"
#include "server/watch.h"

#define BK_BODY_JSON_MAX ((size_t)4 * 1024 * 1024)
#define BK_BODY_FILE_MAX ((uint64_t)600 * 1024 * 1024)
#define BK_BODY_SECONDS 15                /* for a JSON body, and before an upload must keep to a rate */
#define BK_UPLOAD_BYTES_PER_S (64 * 1024) /* slower than this on average is let go */
#define BK_CONNECTIONS_MAX 64
#define BK_IDLE_SECONDS 15
#define BK_BEAT_SECONDS 5 /* of the event stream: well below BK_IDLE_SECONDS */

enum bk_lane_id { BK_HERE = -1, BK_PICTURES, BK_MEASURING, BK_KEEPING, BK_LANES };
#define BK_PICTURE_THREADS 2 /* a losslessly compressed frame takes longer to decode than to show */
typedef enum bk_body { BK_BODY_NONE, BK_BODY_JSON, BK_BODY_FILE } bk_body;

struct bk_request;

typedef struct bk_route {
    const char *method, *pattern; /* "*" stands for one part of the path */
    bk_body body;
    int lane;         /* where run is called */
    bool open;        /* without the cookie */
    bool newest_only; /* a newer one of the same page makes a waiting one needless */
    void (*run)(struct bk_request *);
} bk_route;

extern const bk_route bk_routes[];
extern const size_t bk_routes_n;

typedef struct bk_server {
    bk_guard guard;
    bk_lane *lanes[BK_LANES];
    bk_events events;
    bk_watch watch;
    pthread_mutex_t cases_lock; /* bk_cases serves one thread at a time */
    bk_cases *cases;
    bk_shelf shelf;
    const char *shelf_file; /* the lab's stock list; NULL: none */
    struct MHD_Daemon *daemon;
    atomic_int open_requests;
} bk_server;

#define BK_PARTS_MAX 2
#define BK_PART_TEXT 80

typedef struct bk_request {
    bk_task task; /* first: the lane knows only this */
    bk_server *server;
    struct MHD_Connection *connection;
    const bk_route *route;
    const char *url;
    char part[BK_PARTS_MAX][BK_PART_TEXT]; /* what stood for the "*" */
    char page[BK_PART_TEXT];               /* which page asks: header X-Page */
    char case_id[BK_PART_TEXT];            /* query: case, revision */
    int revision;
    int64_t started_ms;
    int64_t whole_us, begun_us; /* when it was whole, when its route began: told as Server-Timing */
    uint64_t body_n;
    size_t body_room;
    char *body; /* JSON, with a zero behind it */
    int file;   /* upload; -1: none */
    char file_path[256];
    /* the reply */
    unsigned code;
    const char *type; /* NULL: JSON */
    void *reply;      /* freed with free() */
    size_t reply_n;
    char etag[72]; /* of a file of the page, whose bytes are borrowed */
    const void *borrowed;
    char cookie[128]; /* Set-Cookie, when not empty */
    bool streams;     /* answered with the event stream */
} bk_request;

/* ---- replies, called by a route ---- */

/** Takes json over. */
void bk_reply_json(bk_request *request, unsigned code, bk_json *json);
/** {"error": what, "expected"...} as one line. */
void bk_reply_error(bk_request *request, unsigned code, const char *format, ...) BK_PRINTF(3, 4);
/** The HTTP code that stands for a status. */
void bk_reply_status(bk_request *request, const bk_err *err);
/** The JSON body; NULL after it has replied with what is wrong. The caller frees it. */
bk_json *bk_request_json(bk_request *request);

int64_t bk_now_ms(void);
int64_t bk_now_us(void);
/** Does the path fit the pattern? What stood for a "*", never empty and without "/", goes to out. */
bool bk_path_fits(const char *pattern, const char *path, char out[BK_PARTS_MAX][BK_PART_TEXT]);
/** May the page's server answer this at all? Called by http.c; replies when not. */
bool bk_request_guard(bk_request *request, const char *url, const char *method);

#endif
