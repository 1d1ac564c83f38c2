/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A frame of a file as the report shows it. */
#ifndef BK_APP_PICTURE_H
#define BK_APP_PICTURE_H

#include "base/arena.h"
#include "report/report.h"

/** Decode a frame into the arena and choose its window. Errors: as bk_dicom_open and bk_dicom_frame. */
bk_status bk_app_picture(const char *path, int32_t frame, bk_arena *arena, bk_report_picture *out, bk_err *err) BK_MUST_CHECK;

#endif
