/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a DICOM file holds, and one of its frames as a picture. */
#ifndef BK_APP_FRAMES_H
#define BK_APP_FRAMES_H

#include <stdint.h>

#include "base/json.h"
#include "base/status.h"

/** Describe a file as branchkeep.frames/1 (contract). *out is owned by the caller. Errors: those of bk_dicom_open. */
bk_status bk_frames_describe(const char *path, bk_json **out, bk_err *err) BK_MUST_CHECK;

typedef struct bk_window {
    double centre, width; /* in stored values */
} bk_window;

/**
 * Write one frame (from 1) as a PNG: 16 bits of stored values as they are; with a window 8 bits for looking at,
 * where MONOCHROME1 is turned over so that high X-ray intensity is bright in both.
 * The window is the linear one of PS3.3 C.11.2.1.2.1 on stored values: the modality LUT of an XA run leads to linear
 * intensity for calculation and is not for display (C.8.7.1.1.2).
 * Errors: those of bk_dicom_open and bk_dicom_frame; BK_E_USAGE a width below 1; BK_E_IO.
 */
bk_status bk_frames_picture(const char *path, int32_t frame, const bk_window *window, const char *png,
                            bk_err *err) BK_MUST_CHECK;

#endif
