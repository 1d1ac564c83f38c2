/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Time of `rebuild` from measurement documents already read: bench_rebuild M1.json M2.json [M3.json ...]
   Prints {"rebuild_ms":median,"runs":N}; times are of the processor, one thread. */
#include <stdio.h>
#include <time.h>

#include "app/rebuild.h"
#include "base/order.h"

enum { RUNS = 41, FILES_MAX = 6 };

static double now_ms(void)
{
    struct timespec t;
    (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

int main(int argc, char **argv)
{
    bk_err err = {0};
    bk_json *doc[FILES_MAX];
    double ms[RUNS];
    if (argc < 3 || argc > FILES_MAX + 1) {
        fprintf(stderr, "usage: bench_rebuild M1.json M2.json [M3.json ...]\n");
        return 2;
    }
    for (int k = 1; k < argc; k++)
        if (bk_json_read_file(argv[k], &doc[k - 1], &err) != BK_OK) {
            fprintf(stderr, "bench_rebuild: %s\n", err.message);
            return 1;
        }
    for (int run = 0; run < RUNS; run++) {
        bk_json *solid;
        const double start = now_ms();
        if (bk_app_rebuild((const bk_json *const *)doc, (size_t)(argc - 1), &solid, &err) != BK_OK) {
            fprintf(stderr, "bench_rebuild: %s\n", err.message);
            return 1;
        }
        ms[run] = now_ms() - start;
        bk_json_free(solid);
    }
    for (int k = 1; k < argc; k++)
        bk_json_free(doc[k - 1]);
    bk_sort_doubles(ms, RUNS);
    printf("{\"rebuild_ms\":%.3f,\"runs\":%d}\n", ms[RUNS / 2], RUNS);
    return 0;
}
