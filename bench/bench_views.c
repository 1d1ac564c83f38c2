/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The search for views, timed; one JSON object.
     bench_views SOLID.json [RUNS]
   views_ms: everything `views` computes over the default reach in steps of 1 degree, median over the runs, processor
   time of one thread. look_us: one position. mean_foreshortening: of the proximal limb over the reach, to be
   compared with bench/views_vs_numpy.py. */
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "app/solid_read.h"
#include "base/number.h"
#include "base/order.h"
#include "core/anatomy/space/look.h"
#include "core/anatomy/space/views.h"

#define RUNS_MAX 101
#define POSITIONS (121 * 81) /* of the default reach */

static double now_ms(void)
{
    struct timespec t;
    (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

static bk_status bench(const char *path, int runs, bk_arena *arena, bk_err *err)
{
    bk_json *solid;
    bk_app_solid curves;
    bk_views views;
    double ms[RUNS_MAX];
    bk_status status = bk_json_read_file(path, &solid, err);
    if (status == BK_OK)
        status = bk_app_solid_read(solid, arena, &curves, err);
    const bk_views_input in = {curves.limb, 750, {-60, 60}, {-40, 40}, 1, 0.1, 20, 2};
    for (int i = 0; status == BK_OK && i < runs; i++) {
        const bk_arena_mark mark = bk_arena_take_mark(arena);
        const double start = now_ms();
        status = bk_views_search(&in, arena, &views, err);
        ms[i] = now_ms() - start;
        bk_arena_rewind(arena, mark);
    }
    bk_look_scene *scene = BK_NEW(arena, 1, bk_look_scene, err);
    if (status == BK_OK)
        status = scene ? bk_look_prepare(curves.limb, 750, scene, err) : err->status;
    if (status != BK_OK)
        return status;
    bk_look look;
    double sum = 0;
    const double start = now_ms();
    for (int i = 0; i < POSITIONS; i++) {
        bk_look_at(scene, i % 121 - 60, i / 121 - 40, &look);
        sum += look.foreshortening[0];
    }
    const double look_us = 1e3 * (now_ms() - start) / POSITIONS;
    printf("{\"views_ms\": %.3f, \"look_us\": %.3f, \"positions\": %d, \"mean_foreshortening\": %.6f}\n", bk_median(ms, (size_t)runs),
           look_us, POSITIONS, sum / POSITIONS);
    return BK_OK;
}

int main(int argc, char **argv)
{
    bk_err err = {0};
    bk_arena arena;
    if (argc < 2) {
        fputs("usage: bench_views SOLID.json [RUNS]\n", stderr);
        return 2;
    }
    int64_t runs = 11;
    if (argc > 2 && (!bk_integer_read(argv[2], strlen(argv[2]), &runs) || runs < 1 || runs > RUNS_MAX)) {
        fprintf(stderr, "bench_views: \"%s\" was found, 1 to %d runs were expected\n", argv[2], RUNS_MAX);
        return 2;
    }
    bk_arena_init(&arena, (size_t)64 << 20);
    const bk_status status = bench(argv[1], (int)runs, &arena, &err);
    bk_arena_clear(&arena);
    if (status != BK_OK)
        fprintf(stderr, "bench_views: %s\n", err.message);
    return bk_exit_code(status);
}
