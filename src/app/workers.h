/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Items of work spread over processes, answered in order. A process per item: a file that brings the reader down
   costs its own item only, and no library has to be safe for threads. */
#ifndef BK_APP_WORKERS_H
#define BK_APP_WORKERS_H

#include <stddef.h>

#include "base/status.h"

#define BK_WORK_ROOM ((size_t)64 * 1024) /* bytes an item may answer with */
#define BK_WORK_JOBS_MAX 256

typedef struct bk_work {
    int items, jobs; /* jobs: how many at the same time, 1..BK_WORK_JOBS_MAX */
    void *context;
    /** In a process of its own: answer item with at most BK_WORK_ROOM bytes; returns how many. */
    size_t (*item)(void *context, int item, char *out);
    /** In this process, in the order of the items. fault: NULL, or how the item's process came to its end instead of
        answering (n is 0 then). A status other than BK_OK ends all work. */
    bk_status (*done)(void *context, int item, const char *bytes, size_t n, const char *fault, bk_err *err);
} bk_work;

/** Errors: what done returned; BK_E_IO no process or pipe to be had; BK_E_INTERNAL memory. No process is left over. */
bk_status bk_work_run(const bk_work *work, bk_err *err) BK_MUST_CHECK;

/** Processors of this machine that are on line, 1..BK_WORK_JOBS_MAX. */
int bk_work_processors(void);

#endif
