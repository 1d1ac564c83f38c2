/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A drawing as the bytes of an SVG file. */
#ifndef BK_REPORT_SVG_H
#define BK_REPORT_SVG_H

#include "report/canvas.h"

typedef void (*bk_painter)(cairo_t *cr, bk_box box, const void *what);

/** Paint on w x h points, 1 point inside the edge. Errors: BK_E_INTERNAL, with the drawing library's reason; *out is empty then. */
bk_status bk_svg_paint(double w, double h, bk_painter paint, const void *what, bk_report_bytes *out, bk_err *err) BK_MUST_CHECK;

#endif
