/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An invented run: a dark moving band on a shaded, noisy ground. Not an angiogram; only for checking that pixels come
   through. */
#ifndef BK_TESTS_RUN_PATTERN_H
#define BK_TESTS_RUN_PATTERN_H

#include <math.h>
#include <stdint.h>

#include "base/random.h"
#include "base/status.h"

typedef struct run_pattern {
    int32_t rows, cols, bits;
} run_pattern;

static inline void run_pattern_fill(const run_pattern *pattern, int32_t frame, uint16_t *px)
{
    const double top = (double)((1 << pattern->bits) - 1);
    bk_random random;
    bk_random_seed(&random, (uint64_t)frame);
    for (int32_t y = 0; y < pattern->rows; y++)
        for (int32_t x = 0; x < pattern->cols; x++) {
            const double across = x - pattern->cols * (0.4 + 0.2 * sin(0.02 * y + 0.3 * frame));
            const double ground = 0.75 - 0.2 * y / pattern->rows, band = 0.35 * exp(-across * across / 50);
            const double value = (ground - band + 0.01 * bk_random_normal(&random)) * top;
            px[y * pattern->cols + x] = (uint16_t)lround(fmin(fmax(value, 0), top));
        }
}

static inline bk_status run_pattern_next(void *context, int32_t frame, uint16_t *px, bk_err *err)
{
    (void)err;
    run_pattern_fill(context, frame, px);
    return BK_OK;
}

#endif
