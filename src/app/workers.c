/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/workers.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

/* An item that has been started and not yet passed on. */
typedef struct item {
    char *bytes;
    size_t n;
    char fault[64];
    bool finished;
} item;

typedef struct worker {
    pid_t pid; /* 0: free */
    int fd, item;
} worker;

typedef struct pool {
    const bk_work *work;
    item *items;
    worker *workers;
    int running, next, passed;
} pool;

int bk_work_processors(void)
{
    const long n = sysconf(_SC_NPROCESSORS_ONLN);
    return n < 1 ? 1 : n > BK_WORK_JOBS_MAX ? BK_WORK_JOBS_MAX : (int)n;
}

/* Never returns. _exit: what the parent has buffered must not be written twice. */
static void work_alone(const bk_work *work, int number, int fd)
{
    char *out = malloc(BK_WORK_ROOM);
    if (!out)
        _exit(70);
    const size_t n = work->item(work->context, number, out);
    for (size_t at = 0; at < n;) {
        const ssize_t written = write(fd, out + at, n - at);
        if (written < 0 && errno != EINTR)
            _exit(70);
        at += written > 0 ? (size_t)written : 0;
    }
    _exit(0);
}

/* Start the next item in a free worker. BK_OK also when the system has no process to spare just now. */
static bk_status start(pool *p, bk_err *err)
{
    worker *free_one = p->workers;
    while (free_one->pid)
        free_one++;
    int ends[2];
    item *now = &p->items[p->next];
    now->bytes = malloc(BK_WORK_ROOM);
    if (!now->bytes)
        return bk_fail(err, BK_E_INTERNAL, "out of memory for an answer");
    if (pipe(ends) != 0)
        return bk_fail(err, BK_E_IO, "no pipe for a worker: %s", strerror(errno));
    const pid_t pid = fork();
    if (pid == 0) {
        close(ends[0]);
        work_alone(p->work, p->next, ends[1]);
    }
    close(ends[1]);
    if (pid < 0) {
        const int reason = errno;
        close(ends[0]);
        free(now->bytes);
        now->bytes = NULL;
        return p->running ? BK_OK : bk_fail(err, BK_E_IO, "no process for a worker: %s", strerror(reason));
    }
    *free_one = (worker){pid, ends[0], p->next++};
    p->running++;
    return BK_OK;
}

static int wait_for(pid_t pid)
{
    int how = 0;
    while (waitpid(pid, &how, 0) < 0 && errno == EINTR)
        ;
    return how;
}

static void finish(pool *p, worker *w)
{
    item *it = &p->items[w->item];
    close(w->fd);
    const int how = wait_for(w->pid);
    if (WIFSIGNALED(how))
        snprintf(it->fault, sizeof it->fault, "its process was ended by signal %d", WTERMSIG(how));
    else if (WEXITSTATUS(how) != 0)
        snprintf(it->fault, sizeof it->fault, "its process ended with code %d", WEXITSTATUS(how));
    it->finished = true;
    *w = (worker){0};
    p->running--;
}

static void take_in(pool *p, worker *w)
{
    item *it = &p->items[w->item];
    const ssize_t n = read(w->fd, it->bytes + it->n, BK_WORK_ROOM - it->n);
    if (n > 0)
        it->n += (size_t)n;
    else if (n == 0 || errno != EINTR)
        finish(p, w);
}

static bk_status listen_to_all(pool *p, bk_err *err)
{
    struct pollfd ends[BK_WORK_JOBS_MAX];
    worker *of[BK_WORK_JOBS_MAX];
    nfds_t n = 0;
    for (int i = 0; i < p->work->jobs; i++)
        if (p->workers[i].pid) {
            of[n] = &p->workers[i];
            ends[n++] = (struct pollfd){.fd = p->workers[i].fd, .events = POLLIN};
        }
    if (poll(ends, n, -1) < 0)
        return errno == EINTR ? BK_OK : bk_fail(err, BK_E_IO, "waiting for the workers failed: %s", strerror(errno));
    for (nfds_t i = 0; i < n; i++)
        if (ends[i].revents)
            take_in(p, of[i]);
    return BK_OK;
}

static bk_status pass_on(pool *p, bk_err *err)
{
    bk_status status = BK_OK;
    for (; status == BK_OK && p->passed < p->next && p->items[p->passed].finished; p->passed++) {
        item *it = &p->items[p->passed];
        const bool answered = it->fault[0] == '\0';
        status = p->work->done(p->work->context, p->passed, it->bytes, answered ? it->n : 0, answered ? NULL : it->fault, err);
        free(it->bytes);
        it->bytes = NULL;
    }
    return status;
}

static void clear(pool *p)
{
    for (int i = 0; p->workers && i < p->work->jobs; i++)
        if (p->workers[i].pid) {
            kill(p->workers[i].pid, SIGKILL);
            finish(p, &p->workers[i]);
        }
    for (int i = 0; p->items && i < p->work->items; i++)
        free(p->items[i].bytes);
    free(p->items);
    free(p->workers);
}

bk_status bk_work_run(const bk_work *work, bk_err *err)
{
    pool p = {.work = work};
    p.items = calloc((size_t)work->items + 1, sizeof *p.items);
    p.workers = calloc((size_t)work->jobs, sizeof *p.workers);
    bk_status status = p.items && p.workers ? BK_OK : bk_fail(err, BK_E_INTERNAL, "out of memory for the workers");
    while (status == BK_OK && p.passed < work->items) {
        const int before = p.next;
        /* not further ahead than a few rounds: a slow item must not make the answers behind it pile up */
        if (p.running < work->jobs && p.next < work->items && p.next - p.passed < 8 * work->jobs)
            status = start(&p, err);
        if (status == BK_OK && (p.next == before || p.running == work->jobs))
            status = listen_to_all(&p, err);
        if (status == BK_OK)
            status = pass_on(&p, err);
    }
    clear(&p);
    return status;
}
