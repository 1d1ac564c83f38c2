/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "server/lane.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#define WAITING_MAX 128

struct bk_lane {
    pthread_t thread[BK_LANE_THREADS_MAX];
    int threads;
    pthread_mutex_t lock;
    pthread_cond_t changed;
    bk_task *first, *last;
    int waiting;
    bool stopping;
};

/* NULL when the lane ends and nothing waits any more. */
static bk_task *take(bk_lane *lane, const char **dropped)
{
    pthread_mutex_lock(&lane->lock);
    while (!lane->first && !lane->stopping)
        pthread_cond_wait(&lane->changed, &lane->lock);
    bk_task *task = lane->first;
    if (task) {
        lane->first = task->next;
        if (!lane->first)
            lane->last = NULL;
        lane->waiting--;
        *dropped = lane->stopping    ? "the server is ending"
                   : task->overtaken ? "a newer request took its place"
                                     : NULL;
    }
    pthread_mutex_unlock(&lane->lock);
    return task;
}

static void *work(void *argument)
{
    bk_lane *lane = argument;
    const char *dropped = NULL;
    for (bk_task *task = take(lane, &dropped); task; task = take(lane, &dropped))
        task->run(task, dropped);
    return NULL;
}

bk_status bk_lane_start(bk_lane **out, int threads, bk_err *err)
{
    bk_lane *lane = calloc(1, sizeof *lane);
    *out = NULL;
    if (!lane)
        return bk_fail(err, BK_E_INTERNAL, "out of memory");
    pthread_mutex_init(&lane->lock, NULL);
    pthread_cond_init(&lane->changed, NULL);
    *out = lane; /* with fewer threads than wanted it can still be stopped */
    for (; lane->threads < threads; lane->threads++)
        if (pthread_create(&lane->thread[lane->threads], NULL, work, lane) != 0)
            return bk_fail(err, BK_E_INTERNAL, "no thread could be started");
    return BK_OK;
}

static void overtake(bk_lane *lane, const bk_task *newer)
{
    for (bk_task *task = lane->first; newer->kind && task; task = task->next)
        if (task->kind == newer->kind && strcmp(task->owner, newer->owner) == 0)
            task->overtaken = true;
}

bool bk_lane_push(bk_lane *lane, bk_task *task)
{
    pthread_mutex_lock(&lane->lock);
    const bool taken = !lane->stopping && lane->waiting < WAITING_MAX;
    if (taken) {
        overtake(lane, task);
        task->next = NULL;
        if (lane->last)
            lane->last->next = task;
        else
            lane->first = task;
        lane->last = task;
        lane->waiting++;
        pthread_cond_signal(&lane->changed);
    }
    pthread_mutex_unlock(&lane->lock);
    return taken;
}

void bk_lane_stop(bk_lane *lane)
{
    if (!lane)
        return;
    pthread_mutex_lock(&lane->lock);
    lane->stopping = true;
    pthread_cond_broadcast(&lane->changed);
    pthread_mutex_unlock(&lane->lock);
    for (int i = 0; i < lane->threads; i++)
        pthread_join(lane->thread[i], NULL);
    pthread_cond_destroy(&lane->changed);
    pthread_mutex_destroy(&lane->lock);
    free(lane);
}
