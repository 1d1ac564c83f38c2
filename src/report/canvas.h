/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Text and strokes on a cairo surface, in points; what every page and picture of the report is drawn with. */
#ifndef BK_REPORT_CANVAS_H
#define BK_REPORT_CANVAS_H

#include <cairo.h>
#include <stdbool.h>

#include "base/json.h"
#include "report/report.h"

typedef struct bk_box {
    double x, y, w, h;
} bk_box;

typedef enum bk_ink { BK_INK_TEXT, BK_INK_QUIET, BK_INK_LINE, BK_INK_LUMEN, BK_INK_BAND, BK_INK_MARK } bk_ink;

void bk_ink_set(cairo_t *cr, bk_ink ink);

/** Text from its left end at baseline y, cut with an ellipsis when wider than w (0: never cut). Returns its width. */
double bk_text(cairo_t *cr, double x, double y, double w, double size, bool bold, const char *text);
/** The same, ending at x. */
void bk_text_right(cairo_t *cr, double x, double y, double size, bool bold, const char *text);
/** Wrapped text in lines of size*1.3 from baseline y; at most lines_max lines. Returns the next free baseline. */
double bk_paragraph(cairo_t *cr, double x, double y, double w, double size, int lines_max, const char *text);

/* Numbers as words: "3.05 ± 0.06 mm", "47 ± 2 %", "cannot say". decimals of value; sd with one more when small. */
#define BK_WORDS 96
char *bk_qty_words(char out[BK_WORDS], const bk_json *qty, int decimals, const char *unit);
/** "measured", "projected", ...; "" when there is no quantity. */
const char *bk_qty_origin_words(const bk_json *qty);

extern const char *const bk_limb_keys[3];  /* proximal, distal, side */
extern const char *const bk_limb_words[3]; /* "Proximal main", ... */

/** segments.<limb>.<key> of a measurement. */
const bk_json *bk_limb_get(const bk_json *measurement, int limb, const char *key);

/* A larger circle than any frame holds would take cairo forever to bend. */
#define BK_RADIUS_MAX_PX 4096

/** A limb's letter in a small disc. */
void bk_draw_badge(cairo_t *cr, double x, double y, int limb);
/** Name and numbers of one limb of a measurement or a solid, in a column at the left of the box, a third of its height each. */
void bk_draw_numbers(cairo_t *cr, bk_box box, const bk_json *measurement, int limb);

/* ---- the drawings; each keeps inside its box ---- */

/** The frame around the bifurcation with both edges of each limb, branch point, core and MLD marks. */
void bk_draw_film(cairo_t *cr, bk_box box, const bk_report_picture *picture, const bk_json *measurement);
/** The whole frame at scale with thin outlines: for judging the edges. */
void bk_draw_outlines(cairo_t *cr, const bk_json *measurement, double line_width);
/** The bifurcation as a drawing: true widths, projected angles, numbers at the limbs. */
void bk_draw_figure(cairo_t *cr, bk_box box, const bk_json *measurement);
/** Diameter against position for one limb, with the SD band and the reference. */
void bk_draw_curve(cairo_t *cr, bk_box box, const bk_json *measurement, int limb);
/** Pd/Pa along the three limbs, of an answer on flow; one line where it cannot be said. */
void bk_draw_pull_back(cairo_t *cr, bk_box box, const bk_json *flow);
/** A bifurcation in space as a C-arm position would show it: lumen as wide as it is, band of its uncertainty, scale bar; with numbers,
    also those of the limbs at the left. Nothing is drawn of a document without points. */
void bk_draw_solid(cairo_t *cr, bk_box box, const bk_json *solid, double primary_deg, double secondary_deg, bool numbers);
/** Loss over C-arm angles for one purpose of a branchkeep.views/1 document, with the reach and the views found. */
void bk_draw_view_map(cairo_t *cr, bk_box box, const bk_json *views, const char *purpose);
/** The same for one measured view: where a second one would serve. */
void bk_draw_second_view(cairo_t *cr, bk_box box, const bk_json *views);

#endif
