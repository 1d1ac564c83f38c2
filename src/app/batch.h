/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Use case: measure every row of a list. */
#ifndef BK_APP_BATCH_H
#define BK_APP_BATCH_H

#include <stdio.h>

#include "base/status.h"

typedef struct bk_batch_options {
    const char *list;            /* CSV: file,frame,proximal_x,...,side_y[,mm_per_px] */
    int jobs;                    /* processes at the same time, 1..BK_WORK_JOBS_MAX */
    double mm_per_px;            /* for rows that give none; NaN: not entered */
    double medina_threshold_pct; /* NaN: 50 */
} bk_batch_options;

/**
 * Write one CSV row an input row, in the order of the list, the same bytes for any number of jobs.
 *
 * File names are relative to the folder of the list. A row that cannot be measured says why in status and reason.
 * Errors: BK_E_NOTHING some rows failed (all are written); BK_E_DATA the list itself is malformed (nothing is written);
 * BK_E_IO the list or out.
 */
bk_status bk_app_batch(const bk_batch_options *options, FILE *out, bk_err *err) BK_MUST_CHECK;

#endif
