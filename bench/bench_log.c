/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench_log   Replay of a log of 10,000 entries: reading the entries and working out what stands, without the
   reading of the file. Prints {"events","replay_ms","parse_ms"}: median of 9 runs, and of parsing the same
   text as JSON for the ratio. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "app/log.h"

#define RUNS 9
#define EVENTS 10000

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

static int by_size(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static bk_json *long_case(int n)
{
    static const char *const kinds[] = {"contrast", "timi", "balloon", "wire_in",
                                        "act",      "dose", "deflated", "wire_out"};
    bk_json *doc = bk_json_object(), *log = bk_json_array();
    for (int i = 0; i < n; i++) {
        char at[40];
        bk_json *e = bk_json_object();
        const char *kind = kinds[i % 8];
        snprintf(at, sizeof at, "2026-11-25T%02d:%02d:%02dZ", i / 3600 % 24, i / 60 % 60, i % 60);
        bk_json_put_text(e, "event", kind);
        bk_json_put_text(e, "at", at);
        if (i % 8 == 0)
            bk_json_put_real(e, "ml", 0.01);
        if (i % 8 == 1)
            bk_json_put_integer(e, "grade", i % 4);
        if (i % 8 == 1 || i % 8 == 2 || i % 8 == 3 || i % 8 == 7)
            bk_json_put_text(e, "limb", "side");
        if (i % 8 == 2)
            bk_json_put_real(e, "diameter_mm", 2.5);
        if (i % 8 == 4)
            bk_json_put_real(e, "s", 250);
        if (i % 8 == 5)
            bk_json_put_real(e, "air_kerma_gy", 1e-4 * i);
        bk_json_push(log, e);
    }
    bk_json_put_text(doc, "case_id", "long");
    bk_json_put(doc, "log", log);
    return doc;
}

int main(void)
{
    const int n = EVENTS;
    double replay[RUNS], parse[RUNS];
    char *text;
    size_t bytes;
    bk_err err = {0};
    bk_json *doc = long_case(n);
    if (bk_json_write(doc, &text, &bytes, &err) != BK_OK)
        return 1;
    for (int i = 0; i < RUNS; i++) {
        bk_json *out;
        double t = now_ms();
        if (bk_app_log_show(doc, "2026-11-25T23:59Z", &out, &err) != BK_OK) {
            fprintf(stderr, "bench_log: %s\n", err.message);
            return 1;
        }
        replay[i] = now_ms() - t;
        bk_json_free(out);
        t = now_ms();
        if (bk_json_read(text, bytes, &out, &err) != BK_OK)
            return 1;
        parse[i] = now_ms() - t;
        bk_json_free(out);
    }
    qsort(replay, RUNS, sizeof replay[0], by_size);
    qsort(parse, RUNS, sizeof parse[0], by_size);
    printf("{\"events\": %d, \"replay_ms\": %.2f, \"parse_ms\": %.2f}\n", n, replay[RUNS / 2],
           parse[RUNS / 2]);
    bk_json_text_free(text);
    bk_json_free(doc);
    return 0;
}
