/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The cines that are being looked at, kept open: opening costs more than a frame. Of one lane. */
#ifndef BK_SERVER_SHELF_H
#define BK_SERVER_SHELF_H

#include "app/cine.h"

#define BK_SHELF_ROOM 4

typedef struct bk_shelf {
    struct {
        char id[65];
        bk_cine *cine;
        unsigned used; /* the higher, the later */
    } place[BK_SHELF_ROOM];
    unsigned clock;
} bk_shelf;

/** NULL: not open. */
bk_cine *bk_shelf_find(bk_shelf *shelf, const char *id);
/** Takes cine over; the one not used for longest is closed. */
void bk_shelf_put(bk_shelf *shelf, const char *id, bk_cine *cine);
void bk_shelf_clear(bk_shelf *shelf);

#endif
