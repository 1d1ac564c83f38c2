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

/** Bilinear sample at a point left of and above the last column and row. */
static inline float bk_image_bilinear_inside(const bk_image *image, float x, float y)
{
    const int32_t c = (int32_t)x, r = (int32_t)y;
    const float fx = x - (float)c, fy = y - (float)r;
    const float *p = image->px + (size_t)r * (size_t)image->cols + (size_t)c, *q = p + image->cols;
    const float above = p[0] + fx * (p[1] - p[0]), below = q[0] + fx * (q[1] - q[0]);
    return above + fy * (below - above);
}

/** The same at any point: coordinates are clamped to the image, which has two rows and columns or more. */
static inline float bk_image_bilinear(const bk_image *image, float x, float y)
{
    const float right = (float)image->cols - 1.001F, low = (float)image->rows - 1.001F;
    return bk_image_bilinear_inside(image, x < 0 ? 0 : x > right ? right : x, y < 0 ? 0 : y > low ? low : y);
}

#endif
