/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Use case: the report of a case. */
#ifndef BK_APP_REPORT_H
#define BK_APP_REPORT_H

#include "base/status.h"

#define BK_REPORT_CINES_MAX 16

typedef struct bk_report_job {
    const char *case_path;
    const char *const *cines; /* files in which the measured frame may be */
    int cines_n;
    const char *html, *pdf;   /* NULL: not wanted; at least one is */
    const char *shelf;        /* stock list (CSV); NULL: the built-in one that the case names */
} bk_report_job;

/**
 * Write the report of a case: its newest baseline measurement, the sizes that follow, the frame when one of the
 * cines has the SHA-256 of the measured file. Both files are made before either is written.
 * Errors: BK_E_NOTHING the case holds no measurement; BK_E_DATA cines were given and none is the measured one.
 */
bk_status bk_app_report(const bk_report_job *job, bk_err *err) BK_MUST_CHECK;

#endif
