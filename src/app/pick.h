/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Use case: which frame of a run to measure on. */
#ifndef BK_APP_PICK_H
#define BK_APP_PICK_H

#include "base/json.h"

/**
 * Rank the frames of a file as branchkeep.pick/1, best first; *out is the caller's.
 * Errors: those of bk_dicom_open; BK_E_NOTHING no frame can be used. A frame that cannot be used is left out with a
 * warning.
 */
bk_status bk_app_pick(const char *path, bk_json **out, bk_err *err) BK_MUST_CHECK;

#endif
