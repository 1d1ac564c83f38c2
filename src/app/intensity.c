/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/intensity.h"

bk_grey bk_app_grey(const bk_dicom_info *info)
{
    if (info->intensity == BK_INTENSITY_LINEAR)
        return BK_GREY_LINEAR;
    if (info->intensity == BK_INTENSITY_LOG)
        return info->has_modality_lut ? BK_GREY_LINEAR : BK_GREY_LOG;
    return BK_GREY_DISPLAY;
}

bk_status bk_app_intensity(const bk_dicom *file, const bk_dicom_info *info, const uint16_t *px, bk_arena *arena,
                           bk_image *out, bk_err *err)
{
    const int values = 1 << info->bits_stored;
    float *modality = BK_NEW(arena, values, float, err);
    if (!modality)
        return err->status;
    bk_status status = bk_dicom_modality_values(file, modality, (size_t)values, err);
    if (status != BK_OK)
        return status;
    const int sign = info->intensity_sign ? info->intensity_sign : info->monochrome1 ? -1 : 1;
    /* a table that leads back to linear intensity already has the sign right */
    const bool by_table = info->intensity == BK_INTENSITY_LOG && info->has_modality_lut;
    const bk_stored stored = {px, info->rows, info->cols, modality, values, by_table ? 1 : sign, bk_app_grey(info)};
    return bk_image_from_stored(&stored, arena, out, err);
}

bk_status bk_app_log_frame(bk_dicom *file, const bk_dicom_info *info, int32_t frame, bk_arena *arena, bk_image *out,
                           bk_err *err)
{
    bk_image intensity;
    const size_t n = (size_t)info->rows * (size_t)info->cols;
    uint16_t *px = BK_NEW(arena, n, uint16_t, err);
    if (!px)
        return err->status;
    bk_status status = bk_dicom_frame(file, frame, px, n, err);
    if (status == BK_OK)
        status = bk_app_intensity(file, info, px, arena, &intensity, err);
    return status == BK_OK ? bk_image_log(&intensity, bk_app_grey(info), arena, out, err) : status;
}

bk_status bk_app_shutter_mask(const bk_dicom_info *info, bk_arena *arena, unsigned char **mask, bk_err *err)
{
    *mask = NULL;
    if (!info->shutter)
        return BK_OK;
    *mask = BK_NEW(arena, (size_t)info->rows * (size_t)info->cols, unsigned char, err);
    if (!*mask)
        return err->status;
    for (int32_t r = 0; r < info->rows; r++)
        for (int32_t c = 0; c < info->cols; c++)
            (*mask)[(size_t)r * (size_t)info->cols + (size_t)c] =
                r < info->shutter_top || r > info->shutter_bottom || c < info->shutter_left || c > info->shutter_right;
    return BK_OK;
}
