/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A lane of work: tasks are begun in the order they came, each on one of the lane's threads. With one thread
   they are done one after another. */
#ifndef BK_SERVER_LANE_H
#define BK_SERVER_LANE_H

#include <stdbool.h>

#include "base/status.h"

typedef struct bk_lane bk_lane;

typedef struct bk_task {
    struct bk_task *next;
    /* called on a thread of the lane; dropped: why it is not worth doing, NULL when it is */
    void (*run)(struct bk_task *task, const char *dropped);
    /* a newer waiting task with the same kind and owner takes the place of an older one; NULL: keeps its
     * place */
    const void *kind;
    const char *owner;
    bool overtaken;
} bk_task;

#define BK_LANE_THREADS_MAX 4
bk_status bk_lane_start(bk_lane **out, int threads, bk_err *err) BK_MUST_CHECK;
/** False when the lane is ending or has too much to do: the task was not taken. */
bool bk_lane_push(bk_lane *lane, bk_task *task);
/** Take no more, drop what waits, finish what runs, end the threads. NULL is fine. */
void bk_lane_stop(bk_lane *lane);

#endif
