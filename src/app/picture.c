/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/picture.h"

#include "dicom/dicom.h"

bk_status bk_app_picture(const char *path, int32_t frame, bk_arena *arena, bk_report_picture *out, bk_err *err)
{
    bk_dicom *file;
    bk_dicom_info info;
    bk_status status = bk_dicom_open(path, &file, err);
    if (status != BK_OK)
        return status;
    bk_dicom_describe(file, &info);
    const size_t n = (size_t)info.rows * (size_t)info.cols;
    uint16_t *px = BK_NEW(arena, n, uint16_t, err);
    status = px ? bk_dicom_frame(file, frame, px, n, err) : err->status;
    bk_dicom_close(file);
    *out = (bk_report_picture){px, info.rows, info.cols, 0, 1, info.monochrome1};
    if (status == BK_OK)
        bk_report_window(out);
    return status;
}
