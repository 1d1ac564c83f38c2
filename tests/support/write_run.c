/* SPDX-License-Identifier: GPL-3.0-or-later */
/* write_run OUT.dcm ROWS COLUMNS FRAMES BITS [JPEG_RATIO]: an invented run for the scripts. */
#include <stdio.h>
#include <stdlib.h>

#include "base/number.h"
#include "dicom/dicom.h"
#include "support/run_pattern.h"

static double number(const char *text)
{
    double value;
    size_t n = 0;
    while (text[n])
        n++;
    if (!bk_number_read(text, n, &value))
        exit(2);
    return value;
}

int main(int argc, char **argv)
{
    if (argc < 6)
        return 2;
    bk_dicom_out out = {.rows = (int32_t)number(argv[2]),
                        .cols = (int32_t)number(argv[3]),
                        .frames = (int32_t)number(argv[4]),
                        .bits_stored = (int32_t)number(argv[5]),
                        .intensity = BK_INTENSITY_LINEAR,
                        .frame_time_ms = 66.7,
                        .primary_deg = -30,
                        .secondary_deg = 20,
                        .sid_mm = 1050,
                        .sod_mm = 765,
                        .imager_spacing_mm = {0.28, 0.28},
                        .jpeg_ratio = argc > 6 ? number(argv[6]) : (double)NAN,
                        .patient_id = "INVENTED-1",
                        .patient_name = "Invented^Run",
                        .uid_seed = "write_run",
                        .acquired_at = "2026-03-02T10:11:12"};
    run_pattern pattern = {out.rows, out.cols, out.bits_stored};
    bk_err err = {0};
    const bk_status status = bk_dicom_write(argv[1], &out, run_pattern_next, &pattern, &err);
    if (status != BK_OK)
        fprintf(stderr, "write_run: %s\n", err.message);
    return bk_exit_code(status);
}
