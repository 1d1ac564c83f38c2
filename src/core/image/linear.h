/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From stored pixel values to what the measurement works on. */
#ifndef BK_CORE_IMAGE_LINEAR_H
#define BK_CORE_IMAGE_LINEAR_H

#include "base/arena.h"
#include "base/status.h"
#include "core/image/image.h"

typedef enum bk_grey {
    BK_GREY_LINEAR, /* value proportional to X-ray intensity */
    BK_GREY_LOG,    /* value grows with the logarithm of intensity, gain unknown */
    BK_GREY_DISPLAY /* processed for display: relation unknown */
} bk_grey;

typedef struct bk_stored {
    const uint16_t *px; /* rows x cols, row-major */
    int32_t rows, cols;
    const float *modality; /* value of each stored value; NULL: the identity */
    int modality_n;        /* entries of modality; or 2^bits when it is NULL */
    int sign;              /* -1: a higher value means less intensity */
    bk_grey grey;
} bk_stored;

/**
 * Intensity image: bright = many photons, every value > 0.
 *
 * Linear input keeps its unit. Log and display input are only turned the right way round: their values are
 * monotonic in intensity, not proportional to it, and are treated as a logarithm by bk_image_log.
 * Errors: BK_E_LIMIT; BK_E_DATA when all pixels have one value.
 */
bk_status bk_image_from_stored(const bk_stored *stored, bk_arena *arena, bk_image *out, bk_err *err) BK_MUST_CHECK;

/** Log intensity of an image made by bk_image_from_stored (itself for log and display input, scaled to 0..4). */
bk_status bk_image_log(const bk_image *intensity, bk_grey grey, bk_arena *arena, bk_image *out,
                       bk_err *err) BK_MUST_CHECK;

/** Copy of the rows x cols window whose top-left pixel is (row0, col0); it must lie inside. */
bk_status bk_image_crop(const bk_image *image, int32_t row0, int32_t col0, int32_t rows, int32_t cols,
                        bk_arena *arena, bk_image *out, bk_err *err) BK_MUST_CHECK;

/** Bicubic (Catmull-Rom) sample at a point; coordinates are clamped to the image. */
double bk_image_sample(const bk_image *image, double x, double y);

/** Zero image of a size. */
bk_status bk_image_new(int32_t rows, int32_t cols, bk_arena *arena, bk_image *out, bk_err *err) BK_MUST_CHECK;
/** The same with pixels not yet set. */
bk_status bk_image_new_raw(int32_t rows, int32_t cols, bk_arena *arena, bk_image *out, bk_err *err) BK_MUST_CHECK;

#endif
