/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/cine.h"

#include <stdlib.h>
#include <string.h>

#include "app/frames.h"
#include "dicom/dicom.h"
#include "report/report.h"

struct bk_cine {
    char *path;
    bk_dicom *file;
    bk_dicom_info info;
    uint16_t *px; /* one frame */
    size_t px_n;
};

void bk_cine_ready(void)
{
    bk_dicom *none = NULL;
    bk_err ignored = {0};
    if (bk_dicom_open("", &none, &ignored) == BK_OK) /* fails after it has set the toolkit up */
        bk_dicom_close(none);
}

bk_status bk_cine_open(const char *path, bk_cine **out, bk_err *err)
{
    *out = NULL;
    bk_cine *cine = calloc(1, sizeof *cine);
    if (!cine)
        return bk_fail(err, BK_E_INTERNAL, "out of memory");
    bk_status status = bk_dicom_open(path, &cine->file, err);
    if (status == BK_OK) {
        bk_dicom_describe(cine->file, &cine->info);
        cine->px_n = (size_t)cine->info.rows * (size_t)cine->info.cols;
        cine->px = malloc(cine->px_n * sizeof *cine->px);
        cine->path = strdup(path);
        if (!cine->px || !cine->path)
            status = bk_fail(err, BK_E_INTERNAL, "out of memory for a frame of %zu pixels", cine->px_n);
    }
    if (status == BK_OK)
        *out = cine;
    else
        bk_cine_close(cine);
    return status;
}

void bk_cine_close(bk_cine *cine)
{
    if (!cine)
        return;
    bk_dicom_close(cine->file);
    free(cine->px);
    free(cine->path);
    free(cine);
}

bk_status bk_cine_describe(bk_cine *cine, bk_json **out, bk_err *err)
{
    const bk_dicom_info *info = &cine->info;
    bk_status status = bk_frames_describe(cine->path, out, err);
    if (status != BK_OK)
        return status;
    status = bk_dicom_frame(cine->file, (info->frames + 1) / 2, cine->px, cine->px_n, err);
    if (status != BK_OK) {
        bk_json_free(*out);
        *out = NULL;
        return status;
    }
    bk_report_picture picture = {cine->px, info->rows, info->cols, 0, 1, info->monochrome1};
    bk_report_window(&picture);
    bk_json *display = bk_json_object();
    bk_json_put_real(display, "low", picture.low);
    bk_json_put_real(display, "high", picture.high);
    bk_json_put(*out, "display", display);
    bk_json_put_integer(*out, "bytes_per_px", info->bits_stored <= 8 ? 1 : 2);
    return BK_OK;
}

bk_status bk_cine_frame(bk_cine *cine, int32_t frame, unsigned char **bytes, size_t *n, bk_err *err)
{
    const size_t each = cine->info.bits_stored <= 8 ? 1 : 2;
    *bytes = NULL;
    *n = 0;
    const bk_status status = bk_dicom_frame(cine->file, frame, cine->px, cine->px_n, err);
    if (status != BK_OK)
        return status;
    unsigned char *out = malloc(each * cine->px_n);
    if (!out)
        return bk_fail(err, BK_E_INTERNAL, "out of memory for a frame of %zu pixels", cine->px_n);
    for (size_t i = 0; i < cine->px_n; i++) {
        out[each * i] = (unsigned char)(cine->px[i] & 0xff);
        if (each == 2)
            out[2 * i + 1] = (unsigned char)(cine->px[i] >> 8);
    }
    *bytes = out;
    *n = each * cine->px_n;
    return BK_OK;
}
