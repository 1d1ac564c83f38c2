/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "server/shelf.h"

#include <string.h>

#include "base/format.h"

void bk_shelf_start(bk_shelf *shelf)
{
    memset(shelf, 0, sizeof *shelf);
    pthread_mutex_init(&shelf->lock, NULL);
}

bk_cine *bk_shelf_take(bk_shelf *shelf, const char *id)
{
    bk_cine *cine = NULL;
    pthread_mutex_lock(&shelf->lock);
    for (size_t i = 0; i < BK_SHELF_ROOM && !cine; i++)
        if (shelf->place[i].cine && strcmp(shelf->place[i].id, id) == 0) {
            cine = shelf->place[i].cine;
            shelf->place[i].cine = NULL;
            shelf->place[i].used = 0;
        }
    pthread_mutex_unlock(&shelf->lock);
    return cine;
}

void bk_shelf_put(bk_shelf *shelf, const char *id, bk_cine *cine)
{
    size_t oldest = 0;
    pthread_mutex_lock(&shelf->lock);
    for (size_t i = 1; i < BK_SHELF_ROOM; i++)
        if (shelf->place[i].used < shelf->place[oldest].used)
            oldest = i;
    bk_cine *gone = shelf->place[oldest].cine;
    bk_format(shelf->place[oldest].id, sizeof shelf->place[oldest].id, "%s", id);
    shelf->place[oldest].cine = cine;
    shelf->place[oldest].used = ++shelf->clock;
    pthread_mutex_unlock(&shelf->lock);
    bk_cine_close(gone);
}

void bk_shelf_end(bk_shelf *shelf)
{
    for (size_t i = 0; i < BK_SHELF_ROOM; i++)
        bk_cine_close(shelf->place[i].cine);
    pthread_mutex_destroy(&shelf->lock);
}
