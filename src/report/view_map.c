/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Maps over C-arm angles: primary to the right, secondary upwards, as an observer at the feet sees the detector move. */
#include <math.h>
#include <string.h>

#include "base/format.h"
#include "base/number.h"
#include "report/canvas.h"

#define CELLS_MAX 200 /* rows or columns */
#define TONES 5

static const double tone_limit[TONES - 1] = {5, 10, 20, 40}; /* percent of loss */
static const double tone_grey[TONES] = {1.0, 0.92, 0.83, 0.72, 0.60};

typedef struct plane {
    bk_box box;
    double primary[2], secondary[2]; /* degrees at the edges */
} plane;

static double page_x(const plane *p, double primary_deg)
{
    return p->box.x + p->box.w * (primary_deg - p->primary[0]) / (p->primary[1] - p->primary[0]);
}
static double page_y(const plane *p, double secondary_deg)
{
    return p->box.y + p->box.h * (p->secondary[1] - secondary_deg) / (p->secondary[1] - p->secondary[0]);
}

static double number_at(const bk_json *list, size_t i)
{
    return bk_json_number(bk_json_at(list, i));
}

/* The rectangle of the plane that belongs to a span of angles, kept inside. */
static void span(cairo_t *cr, const plane *p, double primary_from, double primary_to, double secondary_from, double secondary_to)
{
    const double x0 = fmax(page_x(p, primary_from), p->box.x), x1 = fmin(page_x(p, primary_to), p->box.x + p->box.w);
    const double y0 = fmax(page_y(p, secondary_to), p->box.y), y1 = fmin(page_y(p, secondary_from), p->box.y + p->box.h);
    if (x1 > x0 && y1 > y0)
        cairo_rectangle(cr, x0, y0, x1 - x0, y1 - y0);
}

static void draw_frame(cairo_t *cr, const plane *p)
{
    char text[BK_NUMBER_TEXT];
    cairo_set_line_width(cr, 0.4);
    for (double a = 30 * ceil(p->primary[0] / 30); a <= p->primary[1]; a += 30) {
        bk_ink_set(cr, BK_INK_LINE);
        cairo_move_to(cr, page_x(p, a), p->box.y + p->box.h);
        cairo_line_to(cr, page_x(p, a), p->box.y + p->box.h + 3);
        cairo_stroke(cr);
        bk_ink_set(cr, BK_INK_QUIET);
        bk_text(cr, page_x(p, a) - 5, p->box.y + p->box.h + 10, 0, 6, false, bk_number_fixed(text, a, 0));
    }
    for (double b = 20 * ceil(p->secondary[0] / 20); b <= p->secondary[1]; b += 20) {
        bk_ink_set(cr, BK_INK_LINE);
        cairo_move_to(cr, p->box.x - 3, page_y(p, b));
        cairo_line_to(cr, p->box.x, page_y(p, b));
        cairo_stroke(cr);
        bk_ink_set(cr, BK_INK_QUIET);
        bk_text_right(cr, p->box.x - 5, page_y(p, b) + 2, 6, false, bk_number_fixed(text, b, 0));
    }
    bk_ink_set(cr, BK_INK_LINE);
    cairo_rectangle(cr, p->box.x, p->box.y, p->box.w, p->box.h);
    cairo_stroke(cr);
    bk_ink_set(cr, BK_INK_QUIET);
    bk_text(cr, p->box.x, p->box.y + p->box.h + 19, 0, 6, false, "RAO \u2190 primary angle \u2192 LAO");
    bk_text(cr, p->box.x, p->box.y - 4, 0, 6, false, "cranial up, caudal down");
}

static void draw_reach(cairo_t *cr, const plane *p, const bk_json *views)
{
    const bk_json *primary = bk_json_path(views, "reach.primary_deg"), *secondary = bk_json_path(views, "reach.secondary_deg");
    span(cr, p, number_at(primary, 0), number_at(primary, 1), number_at(secondary, 0), number_at(secondary, 1));
    bk_ink_set(cr, BK_INK_TEXT);
    cairo_set_line_width(cr, 1.2);
    cairo_stroke(cr);
}

/* A disc with a word in it; hollow: a ring. Outside the plane it is drawn at the edge. */
static void mark(cairo_t *cr, const plane *p, double primary_deg, double secondary_deg, const char *word, bool hollow)
{
    const double x = fmin(fmax(page_x(p, primary_deg), p->box.x), p->box.x + p->box.w);
    const double y = fmin(fmax(page_y(p, secondary_deg), p->box.y), p->box.y + p->box.h);
    if (!isfinite(x + y))
        return;
    cairo_new_path(cr);
    cairo_arc(cr, x, y, 5, 0, 6.2831853);
    if (hollow) {
        cairo_set_source_rgb(cr, 1, 1, 1);
        cairo_fill_preserve(cr);
    }
    bk_ink_set(cr, BK_INK_MARK);
    cairo_set_line_width(cr, 1);
    if (hollow)
        cairo_stroke(cr);
    else
        cairo_fill(cr);
    if (!hollow)
        cairo_set_source_rgb(cr, 1, 1, 1);
    bk_text(cr, x - 2, y + 2.4, 0, 6.6, true, word);
}

static int tone_of(const bk_json *row, size_t c)
{
    const double loss = number_at(row, c);
    int tone = 0;
    while (tone < TONES - 1 && loss >= tone_limit[tone])
        tone++;
    return tone;
}

/* One path for each tone, runs of cells in one piece: the file stays small. */
static void draw_tones(cairo_t *cr, const plane *p, const bk_json *map, const bk_json *rows)
{
    const bk_json *primary = bk_json_get(map, "primary_deg"), *secondary = bk_json_get(map, "secondary_deg");
    const size_t cols = bk_json_count(primary);
    const double half = 0.5 * (number_at(primary, 1) - number_at(primary, 0));
    cairo_set_antialias(cr, CAIRO_ANTIALIAS_NONE); /* cells meet without seams */
    for (int tone = 0; tone < TONES; tone++) {
        cairo_new_path(cr);
        for (size_t r = 0; r < bk_json_count(secondary); r++)
            for (size_t c = 0, end; c < cols; c = end) {
                const bk_json *row = bk_json_at(rows, r);
                const double b = number_at(secondary, r);
                for (end = c + 1; end < cols && tone_of(row, end) == tone_of(row, c); end++)
                    ;
                if (tone_of(row, c) == tone)
                    span(cr, p, number_at(primary, c) - half, number_at(primary, end - 1) + half, b - half, b + half);
            }
        cairo_set_source_rgb(cr, tone_grey[tone], tone_grey[tone], tone_grey[tone]);
        cairo_fill(cr);
    }
    cairo_set_antialias(cr, CAIRO_ANTIALIAS_DEFAULT);
}

static void draw_key(cairo_t *cr, const plane *p)
{
    static const char *const words[TONES] = {"< 5", "5-10", "10-20", "20-40", "> 40 % lost"};
    for (int i = 0; i < TONES; i++) {
        const double x = p->box.x + p->box.w - 152 + 27 * i, y = p->box.y + p->box.h + 14;
        cairo_rectangle(cr, x, y, 6, 6);
        cairo_set_source_rgb(cr, tone_grey[i], tone_grey[i], tone_grey[i]);
        cairo_fill_preserve(cr);
        bk_ink_set(cr, BK_INK_LINE);
        cairo_set_line_width(cr, 0.3);
        cairo_stroke(cr);
        bk_ink_set(cr, BK_INK_QUIET);
        bk_text(cr, x + 7.5, y + 5, 0, 5, false, words[i]);
    }
}

static plane plane_in(bk_box box, double primary_from, double primary_to, double secondary_from, double secondary_to)
{
    return (plane){{box.x + 22, box.y + 12, box.w - 28, box.h - 36}, {primary_from, primary_to}, {secondary_from, secondary_to}};
}

void bk_draw_view_map(cairo_t *cr, bk_box box, const bk_json *views, const char *purpose)
{
    const bk_json *map = bk_json_get(views, "map"), *best = bk_json_get(views, "best");
    const bk_json *primary = bk_json_get(map, "primary_deg"), *secondary = bk_json_get(map, "secondary_deg");
    const size_t cols = bk_json_count(primary), rows = bk_json_count(secondary);
    const double half = 0.5 * (number_at(primary, 1) - number_at(primary, 0));
    if (cols < 2 || rows < 2 || cols > CELLS_MAX || rows > CELLS_MAX || !(half > 0) || !(number_at(secondary, rows - 1) > number_at(secondary, 0)))
        return;
    const plane p = plane_in(box, number_at(primary, 0) - half, number_at(primary, cols - 1) + half, number_at(secondary, 0) - half,
                             number_at(secondary, rows - 1) + half);
    draw_tones(cr, &p, map, bk_json_get(bk_json_get(map, "loss_pct"), purpose));
    draw_frame(cr, &p);
    draw_key(cr, &p);
    draw_reach(cr, &p, views);
    for (size_t i = bk_json_count(best); i-- > 0;) { /* the best on top */
        const bk_json *view = bk_json_at(best, i), *rank = bk_json_get(view, "rank");
        char word[8] = "*";
        if (strcmp(bk_json_text(bk_json_get(view, "purpose")), purpose) != 0)
            continue;
        if (bk_json_is_number(rank))
            bk_format(word, sizeof word, "%.0f", bk_json_number(rank));
        mark(cr, &p, bk_json_number(bk_json_get(view, "primary_deg")), bk_json_number(bk_json_get(view, "secondary_deg")), word,
             !bk_json_is_number(rank) || bk_json_number(rank) > 1);
    }
}

static void mark_place(cairo_t *cr, const plane *p, const bk_json *place, const char *word, bool hollow)
{
    if (bk_json_is_object(place))
        mark(cr, p, bk_json_number(bk_json_get(place, "primary_deg")), bk_json_number(bk_json_get(place, "secondary_deg")), word, hollow);
}

void bk_draw_second_view(cairo_t *cr, bk_box box, const bk_json *views)
{
    const bk_json *second = bk_json_get(views, "second_view"), *regions = bk_json_get(second, "regions");
    const bk_json *primary = bk_json_path(views, "reach.primary_deg"), *secondary = bk_json_path(views, "reach.secondary_deg");
    const plane p = plane_in(box, number_at(primary, 0) - 20, number_at(primary, 1) + 20, number_at(secondary, 0) - 20, number_at(secondary, 1) + 20);
    if (!(p.primary[1] > p.primary[0] && p.secondary[1] > p.secondary[0]))
        return;
    cairo_set_antialias(cr, CAIRO_ANTIALIAS_NONE);
    cairo_new_path(cr);
    for (size_t r = 0; r < bk_json_count(regions) && r < CELLS_MAX; r++) {
        const bk_json *row = bk_json_at(regions, r), *ranges = bk_json_get(row, "primary_deg");
        const double b = bk_json_number(bk_json_get(row, "secondary_deg"));
        for (size_t i = 0; i < bk_json_count(ranges); i++)
            span(cr, &p, number_at(bk_json_at(ranges, i), 0) - 0.5, number_at(bk_json_at(ranges, i), 1) + 0.5,
                 fmax(b - 2.5, number_at(secondary, 0)), fmin(b + 2.5, number_at(secondary, 1)));
    }
    cairo_set_source_rgb(cr, tone_grey[2], tone_grey[2], tone_grey[2]);
    cairo_fill(cr);
    cairo_set_antialias(cr, CAIRO_ANTIALIAS_DEFAULT);
    draw_frame(cr, &p);
    draw_reach(cr, &p, views);
    mark_place(cr, &p, bk_json_get(second, "widest"), "w", true);
    mark_place(cr, &p, bk_json_get(second, "nearest"), "n", true);
    mark_place(cr, &p, bk_json_get(second, "first"), "1", false);
}
