/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The cines that are being looked at, kept open: opening costs more than a frame. A cine serves one thread at
   a time, so it leaves the shelf while it is used; two threads at one film have it open twice. */
#ifndef BK_SERVER_SHELF_H
#define BK_SERVER_SHELF_H

#include <pthread.h>

#include "app/cine.h"

#define BK_SHELF_ROOM 6

typedef struct bk_shelf {
    pthread_mutex_t lock;
    struct {
        char id[65];
        bk_cine *cine; /* NULL: the place is free */
        unsigned used; /* the higher, the later */
    } place[BK_SHELF_ROOM];
    unsigned clock;
} bk_shelf;

void bk_shelf_start(bk_shelf *shelf);
/** Now the caller's; NULL: none stands here. */
bk_cine *bk_shelf_take(bk_shelf *shelf, const char *id);
/** Takes cine over; when all places are taken, the one not used for longest is closed. */
void bk_shelf_put(bk_shelf *shelf, const char *id, bk_cine *cine);
void bk_shelf_end(bk_shelf *shelf);

#endif
