/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Use case: keep a cine open and look through it frame by frame. */
#ifndef BK_APP_CINE_H
#define BK_APP_CINE_H

#include <stddef.h>
#include <stdint.h>

#include "base/json.h"
#include "base/status.h"

typedef struct bk_cine bk_cine; /* one thread at a time */

/**
 * Make the reader of DICOM files ready. Call it once, before threads that open files beside one another
 * (dicom/dicom.h says why).
 */
void bk_cine_ready(void);

/** Errors: those of bk_dicom_open. */
bk_status bk_cine_open(const char *path, bk_cine **out, bk_err *err) BK_MUST_CHECK;
void bk_cine_close(bk_cine *cine); /* NULL is fine */

/**
 * branchkeep.frames/1 with what looking needs besides: bytes_per_px (1 when no more than 8 bits are stored,
 * else 2) and display {low, high}: stored values to show black and white at first, from the middle frame.
 * *out is the caller's.
 */
bk_status bk_cine_describe(bk_cine *cine, bk_json **out, bk_err *err) BK_MUST_CHECK;

/**
 * Stored values of a frame (from 1), row-major, top-left first, bytes_per_px each, little-endian; free()
 * *bytes. Errors: those of bk_dicom_frame.
 */
bk_status bk_cine_frame(bk_cine *cine, int32_t frame, unsigned char **bytes, size_t *n,
                        bk_err *err) BK_MUST_CHECK;

#endif
