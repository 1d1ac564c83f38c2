/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Use case: measure the bifurcation on one frame of a file. */
#ifndef BK_APP_MEASURE_H
#define BK_APP_MEASURE_H

#include <stdbool.h>
#include <stdint.h>

#include "app/corrections.h"
#include "base/json.h"
#include "base/status.h"

typedef struct bk_measure_options {
    const char *path;
    const char *file_sha256;  /* of the file, when it is known already; NULL: it is computed, which for a long cine
                                 takes longer than measuring */
    int32_t frame;            /* from 1 */
    double click_px[3][2];    /* proximal, distal, side */
    double mm_per_px;         /* NaN: not entered */
    bool has_catheter, has_marker;
    double catheter[5];       /* x1, y1, x2, y2, French */
    bk_tri catheter_filled;
    double marker[5];         /* x1, y1, x2, y2, mm */
    const char *stage;        /* "baseline", ...; NULL: baseline */
    bk_tri nitrate;
    bool wire_in[3];          /* a wire lies in that limb */
    double medina_threshold_pct; /* NaN: 50 */
    bk_correction_texts corrections; /* what a person says; see app/corrections.h */
    const struct bk_corrections *corrections_read; /* the same, read already, in the place of the texts; NULL: read those */
    const struct bk_course *course; /* where the limbs are expected to run; NULL: nothing is expected */
    const char *overlay_png;  /* NULL: none */
} bk_measure_options;

/** Stages a measurement may have, NULL-ended. */
extern const char *const bk_measure_stages[];

/**
 * Measure and describe as branchkeep.measurement/1; *out is the caller's. The overlay is written when asked for.
 * Errors: as bk_dicom_open, bk_dicom_frame, bk_bifurcation_measure; nothing is written then.
 */
bk_status bk_app_measure(const bk_measure_options *options, bk_json **out, bk_err *err) BK_MUST_CHECK;

#endif
