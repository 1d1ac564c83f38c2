/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/frames.h"

#include <math.h>
#include <stdlib.h>

#include "app/app.h"
#include "app/warnings.h"
#include "base/number.h"
#include "dicom/dicom.h"
#include "report/png.h"

static const char *intensity_name(bk_intensity intensity)
{
    static const char *const names[] = {NULL, "linear", "log", "display"};
    return names[intensity];
}

static const char *text_or_null(const char *text)
{
    return text[0] ? text : NULL;
}

static void put_pair(bk_json *object, const char *key, const double pair[2])
{
    if (isfinite(pair[0]) && isfinite(pair[1]))
        bk_json_put_reals(object, key, pair, 2, 9);
    else
        bk_json_put_null(object, key);
}

static void put_shutter(bk_json *object, const bk_dicom_info *info)
{
    if (!info->shutter) {
        bk_json_put_null(object, "shutter_px");
        return;
    }
    const double edges[4] = {info->shutter_left, info->shutter_top, info->shutter_right,
                             info->shutter_bottom};
    bk_json_put_reals(object, "shutter_px", edges, 4, 0);
}

static bk_status put_frame_times(bk_json *object, const bk_dicom *file, size_t n, bk_err *err)
{
    if (n == 0) {
        bk_json_put_null(object, "frame_times_ms");
        return BK_OK;
    }
    double *times = malloc(n * sizeof *times);
    if (!times)
        return bk_fail(err, BK_E_INTERNAL, "out of memory for %zu frame times", n);
    n = bk_dicom_frame_times(file, times, n);
    bk_json_put_reals(object, "frame_times_ms", times, n, 3);
    free(times);
    return BK_OK;
}

static bk_status put_r_waves(bk_json *object, const bk_dicom *file, size_t n, bk_err *err)
{
    if (n == 0) {
        bk_json_put_null(object, "r_wave_frames");
        return BK_OK;
    }
    int32_t *waves = malloc(n * sizeof *waves);
    if (!waves)
        return bk_fail(err, BK_E_INTERNAL, "out of memory for %zu R waves", n);
    n = bk_dicom_r_waves(file, waves, n);
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < n; i++)
        bk_json_push(list, bk_json_new_integer(waves[i]));
    bk_json_put(object, "r_wave_frames", list);
    free(waves);
    return BK_OK;
}

static void put_image(bk_json *object, const bk_dicom_info *info)
{
    bk_json_put_text(object, "modality", text_or_null(info->modality));
    bk_json_put_text(object, "sop_class", text_or_null(info->sop_class));
    bk_json_put_text(object, "transfer_syntax", info->transfer_syntax);
    bk_json_put_integer(object, "rows", info->rows);
    bk_json_put_integer(object, "columns", info->cols);
    bk_json_put_integer(object, "frames", info->frames);
    bk_json_put_integer(object, "bits_stored", info->bits_stored);
    bk_json_put_bool(object, "signed", info->is_signed);
    bk_json_put_text(object, "photometric", info->monochrome1 ? "MONOCHROME1" : "MONOCHROME2");
    bk_json_put_text(object, "intensity", intensity_name(info->intensity));
    if (info->intensity_sign)
        bk_json_put_integer(object, "intensity_sign", info->intensity_sign);
    else
        bk_json_put_null(object, "intensity_sign");
    bk_json_put_bool(object, "modality_lut", info->has_modality_lut);
    bk_json_put_bool(object, "lossy", info->lossy);
    bk_json_put_real(object, "lossy_ratio", info->lossy_ratio);
    bk_json_put_text(object, "acquired_at", text_or_null(info->acquired_at));
}

static void put_geometry(bk_json *object, const bk_dicom_info *info)
{
    bk_json_put_real(object, "primary_deg", info->primary_deg);
    bk_json_put_real(object, "secondary_deg", info->secondary_deg);
    bk_json_put_real(object, "sid_mm", info->sid_mm);
    bk_json_put_real(object, "sod_mm", info->sod_mm);
    put_pair(object, "imager_spacing_mm", info->imager_spacing_mm);
    put_pair(object, "pixel_spacing_mm", info->pixel_spacing_mm);
    /* as the contract defines it; distances the wrong way round give none */
    const bool usable = info->sod_mm < info->sid_mm;
    bk_json_put_real(object, "mm_per_px_isocentre",
                     usable ? bk_round_to(info->imager_spacing_mm[1] * info->sod_mm / info->sid_mm, 9)
                            : (double)NAN);
    put_shutter(object, info);
}

static bk_status describe(const bk_dicom *file, bk_json *object, bk_err *err)
{
    bk_dicom_info info;
    bk_dicom_describe(file, &info);
    bk_json_put_text(object, "schema", "branchkeep.frames/1");
    bk_json_put_text(object, "engine", bk_engine);
    put_image(object, &info);
    bk_json_put_real(object, "frame_time_ms", info.frame_time_ms);
    bk_status status = put_frame_times(object, file, info.frame_times_n, err);
    if (status == BK_OK)
        status = put_r_waves(object, file, info.r_waves_n, err);
    put_geometry(object, &info);
    bk_json *warnings = bk_json_array();
    bk_warnings_of_file(warnings, &info);
    bk_json_put(object, "warnings", warnings);
    return status;
}

bk_status bk_frames_describe(const char *path, bk_json **out, bk_err *err)
{
    *out = NULL;
    bk_dicom *file;
    bk_status status = bk_dicom_open(path, &file, err);
    if (status != BK_OK)
        return status;
    bk_json *object = bk_json_object();
    status = describe(file, object, err);
    bk_dicom_close(file);
    if (status != BK_OK)
        bk_json_free(object);
    else
        *out = object;
    return status;
}

/* PS3.3 C.11.2.1.2.1, to 0..255 */
static uint16_t windowed(double value, const bk_window *window)
{
    const double centre = window->centre - 0.5, width = window->width - 1;
    if (value <= centre - width / 2)
        return 0;
    if (value > centre + width / 2)
        return 255;
    return (uint16_t)lround(((value - centre) / width + 0.5) * 255);
}

static void apply_window(uint16_t *px, size_t n, const bk_dicom_info *info, const bk_window *window)
{
    for (size_t i = 0; i < n; i++) {
        px[i] = windowed(px[i], window);
        if (info->monochrome1)
            px[i] = (uint16_t)(255 - px[i]);
    }
}

static bk_status picture(bk_dicom *file, int32_t frame, const bk_window *window, const char *png, bk_err *err)
{
    bk_dicom_info info;
    bk_dicom_describe(file, &info);
    const size_t n = (size_t)info.rows * (size_t)info.cols;
    uint16_t *px = malloc(n * sizeof *px);
    if (!px)
        return bk_fail(err, BK_E_INTERNAL, "out of memory for %zu pixels", n);
    bk_status status = bk_dicom_frame(file, frame, px, n, err);
    if (status == BK_OK && window)
        apply_window(px, n, &info, window);
    if (status == BK_OK)
        status = bk_png_write_grey(png, px, info.rows, info.cols, window ? 8 : 16, err);
    free(px);
    return status;
}

bk_status bk_frames_picture(const char *path, int32_t frame, const bk_window *window, const char *png,
                            bk_err *err)
{
    if (window && !(window->width >= 1))
        return bk_fail(err, BK_E_USAGE, "a window of width %g was found, 1 or more was expected",
                       window->width);
    bk_dicom *file;
    bk_status status = bk_dicom_open(path, &file, err);
    if (status != BK_OK)
        return status;
    status = picture(file, frame, window, png, err);
    bk_dicom_close(file);
    return status;
}
