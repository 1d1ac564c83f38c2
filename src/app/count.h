/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Corrected frame count of a run from two frames that a person names. */
#ifndef BK_APP_COUNT_H
#define BK_APP_COUNT_H

#include "base/json.h"

/**
 * Count from frame first (dye across the vessel, moving) to frame last (dye at the landmark), from 1, by the
 * film's own times. vessel: "lad", "lcx", "rca". Errors: those of bk_dicom_open; BK_E_USAGE unknown vessel or
 * frames not inside the run in rising order; BK_E_DATA a film without times.
 */
bk_status bk_app_count(const char *path, long first, long last, const char *vessel, bk_json **out,
                       bk_err *err) BK_MUST_CHECK;

#endif
