/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A measurement asked for as JSON: the same things as on the command line, by the same names. */
#ifndef BK_APP_MEASURE_REQUEST_H
#define BK_APP_MEASURE_REQUEST_H

#include "app/measure.h"

/**
 * { "cine": ID, "frame": K, "proximal": [x,y], "distal": [x,y], "side": [x,y],
 *   "mm_per_px": V | "catheter": [x1,y1,x2,y2,french], "filled": "yes|no|unknown" | "marker":
 * [x1,y1,x2,y2,mm], "stage", "nitrate", "wire_in_limb": [LIMB], "medina_threshold_pct": V,
 *   "via"|"edge"|"exclude"|"reference"|"swap": ["text as on the command line"] }
 * Texts of *out are borrowed from request; out->path and out->file_sha256 are left NULL. null counts as
 * absent. Errors: BK_E_DATA naming the key, what was found and what was expected; an unknown key names the
 * nearest known one.
 */
bk_status bk_app_measure_request(const bk_json *request, bk_measure_options *out, bk_err *err) BK_MUST_CHECK;

/** Ways to the scale as they were given: mm_per_px, catheter and filled, marker, as in a request; null: not given. */
bk_json *bk_app_scale_given(const bk_measure_options *options);

#endif
