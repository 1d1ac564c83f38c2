/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "server/shelf.h"

#include <string.h>

#include "base/format.h"

bk_cine *bk_shelf_find(bk_shelf *shelf, const char *id)
{
    for (size_t i = 0; i < BK_SHELF_ROOM; i++)
        if (shelf->place[i].cine && strcmp(shelf->place[i].id, id) == 0) {
            shelf->place[i].used = ++shelf->clock;
            return shelf->place[i].cine;
        }
    return NULL;
}

void bk_shelf_put(bk_shelf *shelf, const char *id, bk_cine *cine)
{
    size_t oldest = 0;
    for (size_t i = 1; i < BK_SHELF_ROOM; i++)
        if (shelf->place[i].used < shelf->place[oldest].used)
            oldest = i;
    bk_cine_close(shelf->place[oldest].cine);
    bk_format(shelf->place[oldest].id, sizeof shelf->place[oldest].id, "%s", id);
    shelf->place[oldest].cine = cine;
    shelf->place[oldest].used = ++shelf->clock;
}

void bk_shelf_clear(bk_shelf *shelf)
{
    for (size_t i = 0; i < BK_SHELF_ROOM; i++)
        bk_cine_close(shelf->place[i].cine);
    memset(shelf, 0, sizeof *shelf);
}
