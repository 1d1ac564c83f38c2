/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Use case: what the measurements of a case say together about space. */
#ifndef BK_APP_SPACE_H
#define BK_APP_SPACE_H

#include "base/json.h"

/**
 * {"solid", "views", "svg", "drawing", "of"}: the newest measurement and those of its stage on other films, rebuilt (solid null and views
 * of one view where there is no second film); views of it; maps of them, and the drawing of the solid (null without one), as the text of
 * SVG files; how many views.
 * Errors: BK_E_NOTHING a case without measurement; as bk_app_rebuild and bk_app_views.
 */
bk_status bk_app_space(const bk_json *case_doc, bk_json **out, bk_err *err) BK_MUST_CHECK;

#endif
