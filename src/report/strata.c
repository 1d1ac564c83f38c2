/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Main-vessel against side-branch stenosis: the published strata as regions with the rates of their arms, this case as a
   point with its interval. Regions are told apart by their hatching and their words, never by colour alone. */
#include <math.h>
#include <string.h>

#include "base/format.h"
#include "base/number.h"
#include "report/canvas.h"
#include "report/strata.h"
#include "report/svg.h"

#define LEFT 34.0
#define RIGHT 12.0
#define CAPTION 22.0 /* two lines of words */
#define SIZE_OF(width) ((width) / 34) /* of the letters */
#define SPACE 7.0 /* between hatches */

typedef struct plane {
    bk_box box; /* the square */
} plane;

static double page_x(const plane *p, double pct)
{
    return p->box.x + p->box.w * pct / 100;
}
static double page_y(const plane *p, double pct)
{
    return p->box.y + p->box.h * (1 - pct / 100);
}

/* ---- regions ---- */

typedef struct region {
    const char *comparison; /* id in the answer */
    const char *words;      /* before the line */
    double x0, y0, x1, y1;  /* percent */
    double dx, dy;          /* direction of its hatches */
    bool words_below;       /* at its lower edge, away from the line */
} region;

static void hatch(cairo_t *cr, const plane *p, const region *r)
{
    const double x0 = page_x(p, r->x0), x1 = page_x(p, r->x1), y0 = page_y(p, r->y1), y1 = page_y(p, r->y0);
    const double long_side = 2 * (p->box.w + p->box.h), length = hypot(r->dx, r->dy);
    cairo_save(cr);
    cairo_rectangle(cr, x0, y0, x1 - x0, y1 - y0);
    cairo_clip(cr);
    bk_ink_set(cr, BK_INK_LINE);
    cairo_set_line_width(cr, 0.7);
    for (double at = -long_side; at < long_side; at += SPACE) {
        const double x = x0 - r->dy / length * at, y = y0 + r->dx / length * at;
        cairo_move_to(cr, x - r->dx * long_side, y - r->dy * long_side);
        cairo_line_to(cr, x + r->dx * long_side, y + r->dy * long_side);
    }
    cairo_stroke(cr);
    cairo_restore(cr);
    bk_ink_set(cr, BK_INK_QUIET);
    cairo_set_line_width(cr, 0.6);
    cairo_rectangle(cr, x0, y0, x1 - x0, y1 - y0);
    cairo_stroke(cr);
}

static const bk_json *comparison_of(const bk_json *protect, const char *id)
{
    const bk_json *list = bk_json_get(protect, "comparison");
    for (size_t i = 0; i < bk_json_count(list); i++)
        if (strcmp(bk_json_text(bk_json_get(bk_json_at(list, i), "id")), id) == 0)
            return bk_json_at(list, i);
    return NULL;
}

/* A line of text on white, so that hatches do not cross it. */
static void label(cairo_t *cr, double x, double y, double w, double size, bool bold, const char *text)
{
    cairo_set_source_rgba(cr, 1, 1, 1, 0.92);
    cairo_rectangle(cr, x - 2, y - size, w, size * 1.3);
    cairo_fill(cr);
    bk_ink_set(cr, BK_INK_TEXT);
    bk_text(cr, x, y, w - 2, size, bold, text);
}

static void describe(cairo_t *cr, const plane *p, const region *r, const bk_json *protect, double line)
{
    char text[BK_WORDS], a[BK_NUMBER_TEXT], b[BK_NUMBER_TEXT];
    const bk_json *c = comparison_of(protect, r->comparison);
    const double size = SIZE_OF(p->box.w), x = page_x(p, r->x0) + 5, w = page_x(p, r->x1) - page_x(p, r->x0) - 8;
    double y = r->words_below ? page_y(p, r->y0) - size * 4.9 : page_y(p, r->y1) + size * 1.6;
    const double pct_a = bk_json_number(bk_json_get(c, "pct_a")), pct_b = bk_json_number(bk_json_get(c, "pct_b"));
    bk_format(text, sizeof text, "%s \u2265 %.0f %%", r->words, line);
    label(cr, x, y, w, size, true, text);
    if (!isfinite(pct_a) || !isfinite(pct_b))
        return;
    bk_format(text, sizeof text, "lost with wire %s %%", bk_number_fixed(a, pct_a, 1));
    label(cr, x, y += size * 1.35, w, size, false, text);
    bk_format(text, sizeof text, "without %s %%", bk_number_fixed(b, pct_b, 1));
    label(cr, x, y += size * 1.35, w, size, false, text);
    const bool read = strcmp(bk_json_text(bk_json_get(c, "standing")), "seen") == 0;
    label(cr, x, y += size * 1.35, w, size, false, read ? "registry" : "common practice,");
    if (!read)
        label(cr, x, y + size * 1.35, w, size, false, "no source");
}

static void draw_regions(cairo_t *cr, const plane *p, const bk_json *protect, double line)
{
    const region regions[] = {{"cobis3_side_60", "side", 0, line, line, 100, 1, 1, false},
                              {"cobis3_main_60", "main", line, 0, 100, line, 1, -1, true},
                              {"practice_60_60", "both", line, line, 100, 100, 0, 1, false}};
    for (size_t i = 0; i < sizeof regions / sizeof regions[0]; i++)
        hatch(cr, p, &regions[i]);
    for (size_t i = 0; i < sizeof regions / sizeof regions[0]; i++)
        describe(cr, p, &regions[i], protect, line);
}

/* ---- this case ---- */

static double at(const bk_json *place, const char *axis, const char *key)
{
    return bk_json_number(bk_json_get(bk_json_get(place, axis), key));
}

static void bar(cairo_t *cr, double x0, double y0, double x1, double y1)
{
    const double end = 3;
    const bool level = fabs(y1 - y0) < 1e-9;
    cairo_move_to(cr, x0, y0);
    cairo_line_to(cr, x1, y1);
    for (int i = 0; i < 2; i++) {
        const double x = i ? x1 : x0, y = i ? y1 : y0;
        cairo_move_to(cr, x - (level ? 0 : end), y - (level ? end : 0));
        cairo_line_to(cr, x + (level ? 0 : end), y + (level ? end : 0));
    }
    cairo_stroke(cr);
}

/* hollow: where the case was before a what-if. */
static bool draw_point(cairo_t *cr, const plane *p, const bk_json *place, bool hollow)
{
    const double main = at(place, "main_stenosis_pct", "value"), side = at(place, "side_stenosis_pct", "value");
    if (!isfinite(main) || !isfinite(side))
        return false;
    const double x = page_x(p, main), y = page_y(p, side), r = 3.6;
    bk_ink_set(cr, hollow ? BK_INK_QUIET : BK_INK_TEXT);
    cairo_set_line_width(cr, hollow ? 0.8 : 1.3);
    const double low = at(place, "main_stenosis_pct", "low"), high = at(place, "main_stenosis_pct", "high");
    if (isfinite(low) && !hollow)
        bar(cr, page_x(p, low), y, page_x(p, high), y);
    const double down = at(place, "side_stenosis_pct", "low"), up = at(place, "side_stenosis_pct", "high");
    if (isfinite(down) && !hollow)
        bar(cr, x, page_y(p, down), x, page_y(p, up));
    cairo_new_sub_path(cr);
    cairo_arc(cr, x, y, r, 0, 2 * 3.14159265358979323846);
    if (hollow) {
        cairo_set_source_rgb(cr, 1, 1, 1);
        cairo_fill_preserve(cr);
        bk_ink_set(cr, BK_INK_TEXT);
        cairo_stroke(cr);
    } else {
        cairo_fill_preserve(cr);
        cairo_set_source_rgb(cr, 1, 1, 1);
        cairo_set_line_width(cr, 1);
        cairo_stroke(cr);
    }
    return true;
}

static void draw_way(cairo_t *cr, const plane *p, const bk_json *from, const bk_json *to)
{
    const double x0 = page_x(p, at(from, "main_stenosis_pct", "value")), y0 = page_y(p, at(from, "side_stenosis_pct", "value"));
    const double x1 = page_x(p, at(to, "main_stenosis_pct", "value")), y1 = page_y(p, at(to, "side_stenosis_pct", "value"));
    if (!isfinite(x0) || !isfinite(y0) || !isfinite(x1) || !isfinite(y1) || hypot(x1 - x0, y1 - y0) < 10)
        return;
    const double dash[] = {3, 2};
    bk_ink_set(cr, BK_INK_TEXT);
    cairo_set_line_width(cr, 0.9);
    cairo_set_dash(cr, dash, 2, 0);
    cairo_move_to(cr, x0, y0);
    cairo_line_to(cr, x1, y1);
    cairo_stroke(cr);
    cairo_set_dash(cr, NULL, 0, 0);
}

static void words_of(char out[BK_CELL_WORDS], const bk_json *place, const bk_json *before)
{
    char main[BK_NUMBER_TEXT], side[BK_NUMBER_TEXT];
    const double m = at(place, "main_stenosis_pct", "value"), s = at(place, "side_stenosis_pct", "value");
    if (!isfinite(m) || !isfinite(s)) {
        bk_format(out, BK_CELL_WORDS, "This case cannot be placed: a stenosis is missing.");
        return;
    }
    bk_format(out, BK_CELL_WORDS, "This case: main %s%s %%, side %s %%; bars: %s of the measurement%s.",
              bk_json_true(bk_json_get(place, "main_at_least")) ? "at least " : "", bk_number_fixed(main, m, 0),
              bk_number_fixed(side, s, 0), isfinite(at(place, "main_stenosis_pct", "low")) ? "90 % interval" : "none, no SD",
              before ? "; hollow: before the what-if" : "");
}

/* ---- the whole ---- */

static void draw_axes(cairo_t *cr, const plane *p, double line)
{
    const double marks[] = {0, line, 100}, size = SIZE_OF(p->box.w);
    char text[BK_NUMBER_TEXT];
    bk_ink_set(cr, BK_INK_QUIET);
    cairo_set_line_width(cr, 0.8);
    cairo_rectangle(cr, p->box.x, p->box.y, p->box.w, p->box.h);
    cairo_stroke(cr);
    for (size_t i = 0; i < 3; i++) {
        bk_ink_set(cr, BK_INK_QUIET);
        bk_number_fixed(text, marks[i], 0);
        bk_text_right(cr, p->box.x - 4, page_y(p, marks[i]) + size / 2.5, size, false, text);
        bk_text(cr, page_x(p, marks[i]) - size / 2, p->box.y + p->box.h + size * 1.4, 0, size, false, text);
    }
    bk_text(cr, p->box.x + p->box.w / 2 - 12 * size / 2, p->box.y + p->box.h + size * 2.8, 0, size, false,
            "main vessel stenosis [%]");
    cairo_save(cr);
    cairo_move_to(cr, p->box.x - LEFT + size, p->box.y + p->box.h / 2 + 6 * size);
    cairo_rotate(cr, -3.14159265358979323846 / 2);
    cairo_set_font_size(cr, size);
    cairo_show_text(cr, "side branch stenosis [%]");
    cairo_restore(cr);
}

void bk_draw_strata(cairo_t *cr, bk_box box, const bk_json *protect)
{
    char text[BK_CELL_WORDS];
    const bk_json *place = bk_json_get(protect, "place"), *before = bk_json_get(protect, "place_before");
    const double line = bk_json_number(bk_json_get(place, "line_pct"));
    // below the square: numbers, name of the axis, words
    const double side = fmin(box.w - LEFT - RIGHT, (box.h - CAPTION - 12) / (1 + SIZE_OF(3.2)));
    const plane p = {{box.x + LEFT, box.y + 4, side, side}};
    if (!isfinite(line))
        return;
    draw_axes(cr, &p, line);
    draw_regions(cr, &p, protect, line);
    if (before) {
        draw_way(cr, &p, before, place);
        draw_point(cr, &p, before, true);
    }
    draw_point(cr, &p, place, false);
    words_of(text, place, before);
    bk_ink_set(cr, BK_INK_TEXT);
    bk_paragraph(cr, box.x + LEFT, p.box.y + side + 3.2 * SIZE_OF(side) + 10, box.w - LEFT, 7, 2, text);
}

static void paint(cairo_t *cr, bk_box box, const void *what)
{
    bk_draw_strata(cr, box, what);
}

bk_status bk_strata_svg(const bk_json *protect, bk_report_bytes *out, bk_err *err)
{
    return bk_svg_paint(380, 400, paint, protect, out, err);
}
