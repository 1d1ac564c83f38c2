/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Files that the tests of the DICOM reader make, break and read back. Included by one test only. */
#ifndef BK_TESTS_DICOM_FILES_H
#define BK_TESTS_DICOM_FILES_H

/* Reading and writing runs: what is right comes back as it was, what is wrong ends in one line. Files are put
   together by support/dicom_build.h, which shares no code with the reader. */
#include "support/check.h"

#include <locale.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/file.h"
#include "dicom/dicom.h"
#include "support/dicom_build.h"
#include "support/run_pattern.h"

static char folder[64], file_path[96];

/* ---- helpers ---- */

static bk_dicom *open_ok(const char *path)
{
    bk_err err = {0};
    bk_dicom *file;
    if (bk_dicom_open(path, &file, &err) != BK_OK)
        fail_msg("%s: %s", path, err.message);
    return file;
}

static bk_dicom *open_built(const builder *b, bk_dicom_info *info)
{
    save_bytes(file_path, b->bytes, b->n);
    bk_dicom *file = open_ok(file_path);
    bk_dicom_describe(file, info);
    return file;
}

static bool warned(const bk_dicom_info *info, const char *code)
{
    for (size_t i = 0; i < info->warnings_n; i++)
        if (strcmp(info->warnings[i].code, code) == 0)
            return true;
    return false;
}

/* Opening fails with this status and one line that holds this text. */
static void refused(const char *path, bk_status wanted, const char *part)
{
    bk_err err = {0};
    bk_dicom *file = (bk_dicom *)&err;
    const bk_status status = bk_dicom_open(path, &file, &err);
    if (status != wanted || !strstr(err.message, part))
        fail_msg("status %d, \"%s\"; %d and \"%s\" were expected", status, err.message, wanted, part);
    assert_null(file);
    assert_null(strchr(err.message, '\n'));
}

static void refused_built(const builder *b, bk_status wanted, const char *part)
{
    save_bytes(file_path, b->bytes, b->n);
    refused(file_path, wanted, part);
}

static bk_dicom_out plain_run(int32_t rows, int32_t cols, int32_t frames, int32_t bits)
{
    return (bk_dicom_out){.rows = rows,
                          .cols = cols,
                          .frames = frames,
                          .bits_stored = bits,
                          .intensity = BK_INTENSITY_LINEAR,
                          .frame_time_ms = 66.7,
                          .primary_deg = -30.5,
                          .secondary_deg = 20.25,
                          .sid_mm = 1050,
                          .sod_mm = 765,
                          .imager_spacing_mm = {0.28, 0.3},
                          .jpeg_ratio = (double)NAN,
                          .patient_id = "INVENTED-1",
                          .patient_name = "Invented^Run",
                          .uid_seed = "test",
                          .acquired_at = "2026-03-02T10:11:12"};
}

static void write_ok(const bk_dicom_out *out)
{
    bk_err err = {0};
    run_pattern pattern = {out->rows, out->cols, out->bits_stored};
    if (bk_dicom_write(file_path, out, run_pattern_next, &pattern, &err) != BK_OK)
        fail_msg("%s", err.message);
}

static uint16_t *decode(bk_dicom *file, int32_t frame)
{
    bk_dicom_info info;
    bk_err err = {0};
    bk_dicom_describe(file, &info);
    const size_t n = (size_t)info.rows * (size_t)info.cols;
    uint16_t *px = calloc(n, sizeof *px);
    assert_non_null(px);
    if (bk_dicom_frame(file, frame, px, n, &err) != BK_OK)
        fail_msg("%s", err.message);
    return px;
}

static void assert_pattern(bk_dicom *file, int32_t frame, int32_t bits)
{
    bk_dicom_info info;
    bk_dicom_describe(file, &info);
    const size_t n = (size_t)info.rows * (size_t)info.cols;
    const run_pattern pattern = {info.rows, info.cols, bits};
    uint16_t *wanted = calloc(n, sizeof *wanted);
    run_pattern_fill(&pattern, frame, wanted);
    uint16_t *px = decode(file, frame);
    assert_memory_equal(px, wanted, n * sizeof *px);
    free(px);
    free(wanted);
}

static uint8_t *load(size_t *n)
{
    char *bytes;
    bk_err err = {0};
    assert_int_equal(bk_file_read(file_path, 1 << 28, &bytes, n, &err), BK_OK);
    return (uint8_t *)bytes;
}

/* ---- what is written comes back ---- */

#endif
