/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The part of a frame that a measurement works on. Not for use outside src/core/anatomy. */
#ifndef BK_CORE_ANATOMY_WINDOW_H
#define BK_CORE_ANATOMY_WINDOW_H

#include "core/anatomy/bifurcation.h"

typedef struct bk_window {
    bk_measure_input input; /* pixels and clicks of the window */
    const bk_image *whole;  /* the frame, for what depends on far pixels (scatter) */
    const unsigned char *whole_mask;
    int32_t row0, col0;     /* the window's first pixel in the frame */
} bk_window;

/** As bk_bifurcation_measure, in the window's own pixels. */
bk_status bk_window_measure(const bk_window *window, bk_arena *arena, bk_bifurcation *out, bk_err *err) BK_MUST_CHECK;

#endif
