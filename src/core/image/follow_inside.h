/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files of following share. Not for use outside src/core/image/follow*.c. */
#ifndef BK_CORE_IMAGE_FOLLOW_INSIDE_H
#define BK_CORE_IMAGE_FOLLOW_INSIDE_H

#include "base/arena.h"
#include "base/status.h"
#include "core/image/image.h"

/* A rectangle of a frame, in its pixels, inclusive. */
typedef struct bk_follow_box {
    int32_t left, right, top, bottom;
} bk_follow_box;

/** The box around points and a margin [px], as far as it lies in the frame. */
bk_follow_box bk_follow_box_around(const bk_pt_px *points, size_t n, double margin, const bk_image *image);

/** Tubes of a part of a frame, what noise alone gives taken off. */
bk_status bk_follow_tubes(const bk_image *log_image, const bk_follow_box *part, double mm_per_px, bk_arena *arena,
                          bk_image *out, bk_err *err) BK_MUST_CHECK;

#endif
