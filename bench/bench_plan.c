/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Time of a plan, devices and steps, from a case document already read: bench_plan CASE.json
   Prints {"devices_ms":median,"steps_ms":median,"plan_ms":median,"runs":N}; times are of the processor, one
   thread. */
#include <stdio.h>
#include <time.h>

#include "app/ask.h"
#include "base/order.h"

enum { RUNS = 101, TOPICS = 2 };

static double now_ms(void)
{
    struct timespec t;
    (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

/* false: it cannot be answered, and why was said. */
static bool ask(const char *topic, const bk_json *doc, double *ms)
{
    const bk_ask question = {topic, NULL, 0, 0, 0};
    bk_err err = {0};
    bk_json *answer;
    const double start = now_ms();
    if (bk_app_ask(&question, doc, &answer, &err) != BK_OK) {
        fprintf(stderr, "bench_plan: %s\n", err.message);
        return false;
    }
    *ms = now_ms() - start;
    bk_json_free(answer);
    return true;
}

int main(int argc, char **argv)
{
    static double ms[TOPICS + 1][RUNS];
    bk_err err = {0};
    bk_json *doc;
    if (argc != 2 || bk_json_read_file(argv[1], &doc, &err) != BK_OK) {
        fprintf(stderr, "bench_plan: %s\n", argc == 2 ? err.message : "CASE.json was expected");
        return 2;
    }
    for (int run = 0; run < RUNS; run++) {
        if (!ask("devices", doc, &ms[0][run]) || !ask("steps", doc, &ms[1][run]))
            return 1;
        ms[2][run] = ms[0][run] + ms[1][run];
    }
    bk_json_free(doc);
    for (int i = 0; i <= TOPICS; i++)
        bk_sort_doubles(ms[i], RUNS);
    printf("{\"devices_ms\":%.3f,\"steps_ms\":%.3f,\"plan_ms\":%.3f,\"runs\":%d}\n", ms[0][RUNS / 2],
           ms[1][RUNS / 2], ms[2][RUNS / 2], RUNS);
    return 0;
}
