/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "report/png.h"

#include <libpng16/png.h> /* by its folder: plain png.h may find our own header */
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "base/file.h"

/* The file as it grows in memory, so that a failure leaves nothing half-written. */
typedef struct growing {
    unsigned char *bytes;
    size_t n, room;
} growing;

static void take_bytes(png_structp png, png_bytep bytes, size_t n)
{
    growing *file = png_get_io_ptr(png);
    if (file->room - file->n < n) {
        const size_t room = 2 * file->room + n + 4096;
        unsigned char *larger = realloc(file->bytes, room);
        if (!larger)
            png_error(png, "out of memory"); /* does not return */
        file->bytes = larger;
        file->room = room;
    }
    memcpy(file->bytes + file->n, bytes, n);
    file->n += n;
}

static void flush_nothing(png_structp png)
{
    (void)png;
}

static void stay_silent(png_structp png, png_const_charp message)
{
    (void)png;
    (void)message;
}

/* libpng's own prints to stderr before it jumps. */
static void jump_back(png_structp png, png_const_charp message)
{
    (void)message;
    png_longjmp(png, 1);
}

static void pack_row(const uint16_t *px, int32_t cols, int bits, png_bytep row)
{
    for (int32_t x = 0; x < cols; x++) {
        if (bits == 8) {
            row[x] = (png_byte)px[x];
        } else {
            row[2 * x] = (png_byte)(px[x] >> 8);
            row[2 * x + 1] = (png_byte)(px[x] & 0xff);
        }
    }
}

/* Everything that may jump. The caller owns png, info, row and file, none of which is set here, so nothing is lost. */
static bool encode(png_structp png, png_infop info, const uint16_t *px, int32_t rows, int32_t cols, int bits,
                   png_bytep row)
{
    if (setjmp(png_jmpbuf(png)))
        return false;
    png_set_IHDR(png, info, (png_uint_32)cols, (png_uint_32)rows, bits, PNG_COLOR_TYPE_GRAY, PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    png_write_info(png, info);
    for (int32_t y = 0; y < rows; y++) {
        pack_row(px + (size_t)y * (size_t)cols, cols, bits, row);
        png_write_row(png, row);
    }
    png_write_end(png, info);
    return true;
}

static bk_status encode_into(growing *file, const uint16_t *px, int32_t rows, int32_t cols, int bits, bk_err *err)
{
    png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, NULL, jump_back, stay_silent);
    png_infop info = png ? png_create_info_struct(png) : NULL;
    png_bytep row = malloc((size_t)cols * 2);
    bool done = false;
    if (info && row) {
        png_set_write_fn(png, file, take_bytes, flush_nothing);
        done = encode(png, info, px, rows, cols, bits, row);
    }
    free(row);
    png_destroy_write_struct(&png, &info);
    return done ? BK_OK : bk_fail(err, BK_E_INTERNAL, "out of memory for a PNG of %d x %d", (int)cols, (int)rows);
}

static bk_status check(const uint16_t *px, int32_t rows, int32_t cols, int bits, bk_err *err)
{
    if (rows < 1 || cols < 1 || rows > 65535 || cols > 65535 || (bits != 8 && bits != 16))
        return bk_fail(err, BK_E_USAGE, "a PNG of %d x %d and %d bits cannot be written", (int)cols, (int)rows, bits);
    const size_t n = (size_t)rows * (size_t)cols;
    for (size_t i = 0; bits == 8 && i < n; i++)
        if (px[i] > 255)
            return bk_fail(err, BK_E_USAGE, "a value of %u was found, at most 255 fit 8 bits", px[i]);
    return BK_OK;
}

bk_status bk_png_write_grey(const char *path, const uint16_t *px, int32_t rows, int32_t cols, int bits, bk_err *err)
{
    bk_status status = check(px, rows, cols, bits, err);
    growing file = {0};
    if (status == BK_OK)
        status = encode_into(&file, px, rows, cols, bits, err);
    if (status == BK_OK)
        status = bk_file_write(path, file.bytes, file.n, err);
    free(file.bytes);
    return status;
}
