/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The answer of `views` on one sheet. */
#include <math.h>
#include <string.h>

#include "base/format.h"
#include "base/number.h"
#include "report/canvas.h"
#include "report/svg.h"

#define ROW 226.0
#define HEAD 34.0
#define FOOT 30.0
#define WIDTH 900.0
#define PURPOSES_MAX 8
#define LINE 10.5

typedef struct sheet {
    const bk_json *views, *solid;
} sheet;

static double number(const bk_json *object, const char *path)
{
    return bk_json_number(bk_json_path(object, path));
}

static void head(cairo_t *cr, bk_box box, const char *title)
{
    bk_ink_set(cr, BK_INK_TEXT);
    bk_text(cr, box.x + 8, box.y + 20, 0, 13, true, title);
}

static void foot(cairo_t *cr, bk_box box, const bk_json *views, const char *key)
{
    bk_ink_set(cr, BK_INK_QUIET);
    bk_text(cr, box.x + 8, box.y + box.h - 17, box.w - 16, 6.6, false, key);
    bk_text(cr, box.x + 8, box.y + box.h - 7, box.w - 16, 6.6, false, bk_json_text(bk_json_at(bk_json_get(views, "cautions"), 0)));
}

/* One view in words; returns the next baseline. */
static double describe(cairo_t *cr, double x, double y, double w, const bk_json *view)
{
    static const char *const sights[][2] = {{"profile", "in profile"}, {"en_face", "en face"}, {"end_on", "along the main vessel"}, {"oblique", "oblique"}};
    char text[400], a[BK_WORDS];
    const bk_json *rank = bk_json_get(view, "rank"), *f = bk_json_get(view, "foreshortening_pct"),
                  *sd = bk_json_get(view, "foreshortening_sd_pct");
    if (bk_json_is_number(rank))
        bk_format(text, sizeof text, "%.0f  %s%s", bk_json_number(rank), bk_json_text(bk_json_get(view, "words")),
                  bk_json_number(rank) > 1 && !bk_json_true(bk_json_get(view, "another_valley")) ? " (same valley)" : "");
    else
        bk_format(text, sizeof text, "*  %s, out of reach", bk_json_text(bk_json_get(view, "words")));
    bk_ink_set(cr, BK_INK_TEXT);
    bk_text(cr, x, y, w, 9, true, text);
    bk_format(text, sizeof text, "shortened P %.1f ± %.1f, D %.1f ± %.1f, S %.1f ± %.1f %%", number(f, "proximal"), number(sd, "proximal"),
              number(f, "distal"), number(sd, "distal"), number(f, "side"), number(sd, "side"));
    bk_text(cr, x, y + LINE, w, 6.8, false, text);
    bk_format(text, sizeof text, "overlap %.0f %% (90 %% interval %.0f to %.0f), clear: %s", number(view, "overlap_pct"), number(view, "overlap.low"),
              number(view, "overlap.high"), bk_json_text(bk_json_path(view, "overlap.clear")));
    bk_text(cr, x, y + 2 * LINE, w, 6.8, false, text);
    const char *seen = bk_json_text(bk_json_path(view, "ostium.seen"));
    for (size_t i = 0; i < sizeof sights / sizeof sights[0]; i++)
        if (strcmp(seen, sights[i][0]) == 0)
            seen = sights[i][1];
    bk_format(text, sizeof text, "mouth of the side branch %s, angle seen %s", seen, bk_qty_words(a, bk_json_get(view, "distal_side_seen_deg"), 0, "\u00b0"));
    bk_text(cr, x, y + 3 * LINE, w, 6.8, false, text);
    y += 4 * LINE;
    if (!bk_json_is_number(rank)) {
        bk_format(text, sizeof text, "staying in reach costs %.1f points of loss", number(view, "price.loss_points"));
        bk_text(cr, x, y, w, 6.8, false, text);
        y += LINE;
    }
    return y + 5;
}

static void purpose_row(cairo_t *cr, bk_box row, const sheet *s, const bk_json *purpose)
{
    const char *id = bk_json_text(bk_json_get(purpose, "id"));
    const bk_json *best = bk_json_get(s->views, "best"), *first = NULL;
    char title[160];
    bk_format(title, sizeof title, "To %s", bk_json_text(bk_json_get(purpose, "text")));
    bk_ink_set(cr, BK_INK_TEXT);
    bk_text(cr, row.x + 8, row.y + 8, row.w - 16, 9, true, title);
    bk_draw_view_map(cr, (bk_box){row.x + 8, row.y + 16, 350, ROW - 24}, s->views, id);
    double y = row.y + 30;
    for (size_t i = 0; i < bk_json_count(best); i++) {
        const bk_json *view = bk_json_at(best, i);
        if (strcmp(bk_json_text(bk_json_get(view, "purpose")), id) != 0 || y > row.y + ROW - 4 * LINE)
            continue;
        first = first ? first : view;
        y = describe(cr, row.x + 640, y, row.w - 648, view);
    }
    if (first && s->solid)
        bk_draw_solid(cr, (bk_box){row.x + 374, row.y + 24, 250, ROW - 44}, s->solid, number(first, "primary_deg"), number(first, "secondary_deg"),
                      false);
}

static void paint_views(cairo_t *cr, bk_box box, const void *what)
{
    const sheet *s = what;
    const bk_json *purposes = bk_json_get(s->views, "purposes");
    head(cr, box, "Where to stand: C-arm positions by purpose");
    for (size_t i = 0; i < bk_json_count(purposes) && i < PURPOSES_MAX; i++)
        purpose_row(cr, (bk_box){box.x, box.y + HEAD + ROW * (double)i, box.w, ROW}, s, bk_json_at(purposes, i));
    foot(cr, box, s->views,
         "grey: what is lost, foreshortening and overlap together \u00b7 frame: reach of the C-arm \u00b7 1 best, 2 next best, * best anywhere, out of reach "
         "(at the edge when beyond the map) \u00b7 drawn as the best view shows it; band: 90 % of the lumen's edge");
}

static void paint_second(cairo_t *cr, bk_box box, const void *what)
{
    const sheet *s = what;
    const bk_json *missing = bk_json_get(s->views, "missing");
    head(cr, box, "One view: where a second one may be taken from");
    bk_draw_second_view(cr, (bk_box){box.x + 8, box.y + HEAD, 460, box.h - HEAD - FOOT - 4}, s->views);
    double y = box.y + HEAD + 22;
    bk_ink_set(cr, BK_INK_TEXT);
    for (size_t i = 0; i < bk_json_count(missing); i++)
        y = bk_paragraph(cr, box.x + 490, y, box.w - 500, 8, 6, bk_json_text(bk_json_get(bk_json_at(missing, i), "why"))) + 6;
    static const char *const places[][2] = {{"first", "1 measured view"}, {"nearest", "n nearest"}, {"widest", "w widest apart"}};
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        const bk_json *place = bk_json_get(bk_json_get(s->views, "second_view"), places[i][0]);
        char text[200];
        if (!bk_json_is_object(place))
            continue;
        if (isfinite(number(place, "apart_deg")))
            bk_format(text, sizeof text, "%s: %s, %.0f\u00b0 away; depth %.1f times as uncertain as at 90\u00b0", places[i][1],
                      bk_json_text(bk_json_get(place, "words")), number(place, "apart_deg"), number(place, "depth_error_factor"));
        else
            bk_format(text, sizeof text, "%s: %s", places[i][1], bk_json_text(bk_json_get(place, "words")));
        y = bk_paragraph(cr, box.x + 490, y, box.w - 500, 8, 3, text) + 4;
    }
    static const char *const words[3] = {"Proximal main", "Distal main", "Side branch"};
    for (int i = 0; i < 3; i++) {
        char path[80], text[200];
        bk_format(path, sizeof path, "price.lengths.%s.length", bk_limb_keys[i]);
        const bk_json *length = bk_json_path(s->views, path);
        if (!isfinite(number(length, "at_least_mm")))
            continue;
        bk_format(text, sizeof text, "%s: at least %.1f mm; %.1f if it leans %.0f\u00b0, %.1f at %.0f\u00b0", words[i], number(length, "at_least_mm"),
                  number(length, "if_leaning.0.length_mm"), number(length, "if_leaning.0.lean_deg"), number(length, "if_leaning.1.length_mm"),
                  number(length, "if_leaning.1.lean_deg"));
        y = bk_paragraph(cr, box.x + 490, y, box.w - 500, 8, 3, text) + 4;
    }
    foot(cr, box, s->views, "grey: far enough away \u00b7 frame: reach of the C-arm \u00b7 1 measured view, n nearest, w widest apart");
}

bk_status bk_views_svg(const bk_json *views, const bk_json *solid, bk_report_bytes *out, bk_err *err)
{
    const sheet s = {views, solid};
    const size_t rows = bk_json_count(bk_json_get(views, "purposes"));
    if (rows == 0)
        return bk_svg_paint(WIDTH - 150, 420, paint_second, &s, out, err);
    return bk_svg_paint(WIDTH, HEAD + ROW * (double)(rows < PURPOSES_MAX ? rows : PURPOSES_MAX) + FOOT, paint_views, &s, out, err);
}
