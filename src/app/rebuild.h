/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Use case: measurements of one bifurcation in several views -> branchkeep.solid/1. */
#ifndef BK_APP_REBUILD_H
#define BK_APP_REBUILD_H

#include "base/json.h"

/**
 * Rebuild a bifurcation in space from n measurement documents (2 to 6), read already. *out is owned by the caller.
 *
 * Errors: BK_E_USAGE too few or too many; BK_E_DATA a document without C-arm geometry or profile, or of another patient;
 *         BK_E_NOTHING the views share nothing that can be rebuilt. The message names the document by its number.
 */
bk_status bk_app_rebuild(const bk_json *const *measurement, size_t n, bk_json **out, bk_err *err) BK_MUST_CHECK;

/**
 * Draw a branchkeep.solid/1 as the view that opens the carina shows it (core/anatomy/space/views.h), as the text of an SVG file; the
 * caller frees it. Errors: those of bk_app_views.
 */
bk_status bk_app_solid_drawing(const bk_json *solid, char **svg, bk_err *err) BK_MUST_CHECK;

#endif
