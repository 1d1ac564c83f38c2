/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which cines were checked in this run. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "store/inside.h"

static bk_seen_cine *seen(bk_store *store, const char *sha256)
{
    for (size_t i = 0; i < store->seen_n; i++)
        if (strcmp(store->seen[i].sha256, sha256) == 0)
            return &store->seen[i];
    return NULL;
}

/* Looking at a large file again for each frame would be slow: its size, time and number tell whether it
 * changed. */
static bk_seen_cine signs_of(const char *path, const char *sha256)
{
    struct stat info;
    bk_seen_cine now = {.bytes = -1};
    if (lstat(path, &info) == 0) {
        now.bytes = info.st_size;
        now.changed_ns = (int64_t)info.st_ctim.tv_sec * 1000000000 + info.st_ctim.tv_nsec;
        now.file_number = (uint64_t)info.st_ino;
        snprintf(now.sha256, sizeof now.sha256, "%.64s", sha256);
    }
    return now;
}

static void remember(bk_store *store, const bk_seen_cine *now)
{
    bk_seen_cine *known = seen(store, now->sha256);
    if (!known) {
        bk_seen_cine *larger = realloc(store->seen, (store->seen_n + 1) * sizeof *larger);
        if (!larger)
            return; /* it will be looked at again */
        store->seen = larger;
        known = &store->seen[store->seen_n++];
    }
    *known = *now;
}

bk_status bk__check_once(bk_store *store, const char *path, const char *sha256, int64_t bytes, bk_err *err)
{
    const bk_seen_cine now = signs_of(path, sha256), *known = seen(store, sha256);
    if (known && known->bytes == now.bytes && known->changed_ns == now.changed_ns &&
        known->file_number == now.file_number)
        return BK_OK;
    const bk_status status = bk__cine_check(path, sha256, bytes, err);
    if (status == BK_OK)
        remember(store, &now);
    return status;
}

void bk__seen_now(bk_store *store, const char *path, const char *sha256)
{
    const bk_seen_cine now = signs_of(path, sha256);
    remember(store, &now);
}
