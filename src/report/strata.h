/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The case among the published strata, from an answer of topic protect. */
#ifndef BK_REPORT_STRATA_H
#define BK_REPORT_STRATA_H

#include "report/canvas.h"

#define BK_CELL_WORDS 200

/** Draw it inside the box; nothing of an answer without a place. With place_before (a what-if) both points and the way. */
void bk_draw_strata(cairo_t *cr, bk_box box, const bk_json *protect);

#endif
