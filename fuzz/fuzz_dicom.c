/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a DICOM file: open, describe, decode the first and the last frame. DCMTK and OpenJPEG come
   from Debian and are not instrumented, so the search is led by our own code; a crash inside them is found
   all the same. */
#define _GNU_SOURCE /* memfd_create */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <unistd.h>

#include "dicom/dicom.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);

#define PIXELS_MAX ((size_t)1 << 20) /* larger ones only take time */

static void decode(bk_dicom *file, const bk_dicom_info *info, int32_t frame)
{
    const size_t n = (size_t)info->rows * (size_t)info->cols;
    bk_err err = {0};
    uint16_t *px = malloc(n * sizeof *px);
    if (!px)
        return;
    const bk_status status = bk_dicom_frame(file, frame, px, n, &err);
    if ((status == BK_OK) != (err.status == BK_OK))
        abort();
    for (size_t i = 0; i < n; i++)
        if (px[i] >> info->bits_stored)
            abort();
    free(px);
}

static void try_file(const char *path)
{
    bk_err err = {0};
    bk_dicom *file;
    if (bk_dicom_open(path, &file, &err) != BK_OK) {
        if (file || !err.message[0] || err.status == BK_E_INTERNAL)
            abort();
        return;
    }
    bk_dicom_info info;
    bk_dicom_describe(file, &info);
    if (info.frames < 1 || info.bits_stored < 8 || info.bits_stored > 16)
        abort();
    static float values[1 << 16];
    if (bk_dicom_modality_values(file, values, 1 << 16, &err) != BK_OK)
        abort();
    if ((size_t)info.rows * (size_t)info.cols <= PIXELS_MAX) {
        decode(file, &info, 1);
        decode(file, &info, info.frames);
    }
    bk_dicom_close(file);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    const int fd = memfd_create("fuzz", MFD_CLOEXEC);
    char path[32];
    snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
    if (fd < 0 || write(fd, bytes, n) != (ssize_t)n)
        abort();
    try_file(path);
    close(fd);
    return 0;
}
