/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Grey PNG files. The library behind it (libpng) is named in png.c only. */
#ifndef BK_REPORT_PNG_H
#define BK_REPORT_PNG_H

#include <stdint.h>

#include "base/status.h"

/**
 * Write a grey PNG. px: rows x cols, row-major, top-left first; bits 8 (values 0..255) or 16. The same pixels give
 * the same bytes. All or nothing.
 * Errors: BK_E_USAGE an impossible size or depth, or a value above 255 at 8 bits; BK_E_IO; BK_E_INTERNAL memory.
 */
bk_status bk_png_write_grey(const char *path, const uint16_t *px, int32_t rows, int32_t cols, int bits,
                            bk_err *err) BK_MUST_CHECK;

#endif
