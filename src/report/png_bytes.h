/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bytes that cairo writes: a picture as PNG, or any surface that streams. */
#ifndef BK_REPORT_PNG_BYTES_H
#define BK_REPORT_PNG_BYTES_H

#include <cairo.h>

#include "report/report.h"

/** A cairo write function; closure is a bk_report_bytes. Over BK_REPORT_BYTES_MAX or out of memory: a write error. */
cairo_status_t bk_bytes_add(void *closure, const unsigned char *data, unsigned int n);

/** PNG of an image surface; out->bytes is freed by the caller, NULL on error. */
bk_status bk_png_bytes(cairo_surface_t *surface, bk_report_bytes *out, bk_err *err) BK_MUST_CHECK;

/** Base64 (RFC 4648) of some bytes added to out. */
bk_status bk_bytes_add_base64(bk_report_bytes *out, const bk_report_bytes *in, bk_err *err) BK_MUST_CHECK;

#endif
