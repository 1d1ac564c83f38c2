/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A decoded frame as X-ray intensity. */
#ifndef BK_APP_INTENSITY_H
#define BK_APP_INTENSITY_H

#include "base/arena.h"
#include "core/image/linear.h"
#include "dicom/dicom.h"

/** Log pixels with a modality table become linear by it; without one their gain is unknown. */
bk_grey bk_app_grey(const bk_dicom_info *info);

/** px: the frame as bk_dicom_frame gives it. Errors: as bk_dicom_modality_values and bk_image_from_stored. */
bk_status bk_app_intensity(const bk_dicom *file, const bk_dicom_info *info, const uint16_t *px, bk_arena *arena,
                           bk_image *out, bk_err *err) BK_MUST_CHECK;

/** Decode a frame into log intensity. Everything is taken from the arena: rewind it to give the frame back. */
bk_status bk_app_log_frame(bk_dicom *file, const bk_dicom_info *info, int32_t frame, bk_arena *arena, bk_image *out,
                           bk_err *err) BK_MUST_CHECK;

/** rows x cols, 1 = behind the shutter that the file names; NULL when it names none. */
bk_status bk_app_shutter_mask(const bk_dicom_info *info, bk_arena *arena, unsigned char **mask, bk_err *err) BK_MUST_CHECK;

#endif
