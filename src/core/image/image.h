/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A grey image of floats. Pixel (0,0) is the centre of the top-left pixel, x right, y down; row-major. */
#ifndef BK_CORE_IMAGE_IMAGE_H
#define BK_CORE_IMAGE_IMAGE_H

#include <stddef.h>
#include <stdint.h>

typedef struct bk_image {
    float *px;
    int32_t rows, cols;
} bk_image;

typedef struct bk_pt_px {
    double x, y;
} bk_pt_px;

static inline float bk_image_at(const bk_image *image, int32_t row, int32_t col)
{
    return image->px[(size_t)row * (size_t)image->cols + (size_t)col];
}

#endif
