/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The bifurcation as a drawing: limbs with their true widths along their axes, thin healthy outline behind, and the
   numbers at the limbs. Everything comes from the profile, so what is drawn is what was measured. */
#include <math.h>

#include "base/format.h"
#include "report/canvas.h"

typedef struct frame_of {
    double x, y, scale; /* page = (x, y) + scale * image */
} frame_of;

static double item(const bk_json *profile, const char *key, size_t i)
{
    return bk_json_number(bk_json_at(bk_json_get(profile, key), i));
}

static bool range_of(const bk_json *measurement, double low[2], double high[2])
{
    low[0] = low[1] = INFINITY;
    high[0] = high[1] = -INFINITY;
    for (int limb = 0; limb < 3; limb++) {
        const bk_json *p = bk_limb_get(measurement, limb, "profile");
        for (size_t i = 0; i < bk_json_count(bk_json_get(p, "x_px")); i++) {
            const double v[2] = {item(p, "x_px", i), item(p, "y_px", i)};
            for (int k = 0; k < 2; k++)
                if (isfinite(v[k])) {
                    low[k] = fmin(low[k], v[k]);
                    high[k] = fmax(high[k], v[k]);
                }
        }
    }
    return high[0] > low[0] && high[1] > low[1];
}

/* One limb as a closed shape of half-width half(i) about its axis; key names the diameters in mm. */
static void limb_shape(cairo_t *cr, const frame_of *f, const bk_json *profile, const char *key, double mm_per_px)
{
    const size_t n = bk_json_count(bk_json_get(profile, "x_px"));
    cairo_new_path(cr);
    for (size_t k = 0; k < 2 * n; k++) {
        const size_t i = k < n ? k : 2 * n - 1 - k;
        const size_t a = i > 0 ? i - 1 : 0, b = i + 1 < n ? i + 1 : i;
        const double dx = item(profile, "x_px", b) - item(profile, "x_px", a);
        const double dy = item(profile, "y_px", b) - item(profile, "y_px", a);
        const double length = hypot(dx, dy), half = 0.5 * item(profile, key, i) / mm_per_px * (k < n ? 1 : -1);
        const double x = item(profile, "x_px", i) + half * dy / length, y = item(profile, "y_px", i) - half * dx / length;
        if (isfinite(x) && isfinite(y))
            cairo_line_to(cr, f->x + f->scale * x, f->y + f->scale * y);
    }
    cairo_close_path(cr);
}

static void draw_limb(cairo_t *cr, const frame_of *f, const bk_json *measurement, int limb, double mm_per_px)
{
    const bk_json *p = bk_limb_get(measurement, limb, "profile");
    limb_shape(cr, f, p, "diameter_mm", mm_per_px);
    bk_ink_set(cr, BK_INK_BAND);
    cairo_fill_preserve(cr);
    bk_ink_set(cr, BK_INK_LUMEN);
    cairo_set_line_width(cr, 0.9);
    cairo_stroke(cr);
    const double dash[2] = {2, 2};
    limb_shape(cr, f, p, "reference_mm", mm_per_px);
    bk_ink_set(cr, BK_INK_QUIET);
    cairo_set_dash(cr, dash, 2, 0);
    cairo_set_line_width(cr, 0.5);
    cairo_stroke(cr);
    cairo_set_dash(cr, NULL, 0, 0);
}

static void draw_core(cairo_t *cr, const frame_of *f, const bk_json *measurement)
{
    const bk_json *core = bk_json_get(measurement, "core"), *centre = bk_json_get(core, "centre_px");
    const double x = bk_json_number(bk_json_at(centre, 0)), y = bk_json_number(bk_json_at(centre, 1));
    const double r = bk_json_number(bk_json_get(core, "radius_px"));
    if (!(isfinite(x) && isfinite(y) && r > 0 && r < BK_RADIUS_MAX_PX))
        return;
    cairo_new_path(cr);
    cairo_arc(cr, f->x + f->scale * x, f->y + f->scale * y, f->scale * r, 0, 6.2831853);
    bk_ink_set(cr, BK_INK_BAND);
    cairo_fill_preserve(cr);
    bk_ink_set(cr, BK_INK_LUMEN);
    cairo_set_line_width(cr, 0.6);
    cairo_stroke(cr);
}

/* A tick across the lumen at the MLD. */
static void draw_mld(cairo_t *cr, const frame_of *f, const bk_json *measurement, int limb)
{
    const bk_json *p = bk_limb_get(measurement, limb, "profile"), *positions = bk_json_get(p, "position_mm");
    const double at = bk_json_number(bk_limb_get(measurement, limb, "mld_position_mm"));
    size_t best = 0;
    for (size_t i = 0; i < bk_json_count(positions); i++)
        if (fabs(item(p, "position_mm", i) - at) < fabs(item(p, "position_mm", best) - at))
            best = i;
    const bk_json *l = bk_json_at(bk_json_get(p, "left_px"), best), *r = bk_json_at(bk_json_get(p, "right_px"), best);
    const double x0 = bk_json_number(bk_json_at(l, 0)), y0 = bk_json_number(bk_json_at(l, 1));
    const double x1 = bk_json_number(bk_json_at(r, 0)), y1 = bk_json_number(bk_json_at(r, 1));
    if (!isfinite(x0 + y0 + x1 + y1) || !isfinite(at))
        return;
    const double dx = (x1 - x0) * 0.4, dy = (y1 - y0) * 0.4;
    bk_ink_set(cr, BK_INK_MARK);
    cairo_set_line_width(cr, 1.2);
    cairo_move_to(cr, f->x + f->scale * (x0 - dx), f->y + f->scale * (y0 - dy));
    cairo_line_to(cr, f->x + f->scale * (x1 + dx), f->y + f->scale * (y1 + dy));
    cairo_stroke(cr);
}

static const char *const badges[3] = {"P", "D", "S"};

void bk_draw_badge(cairo_t *cr, double x, double y, int limb)
{
    if (!isfinite(x + y))
        return;
    bk_ink_set(cr, BK_INK_LUMEN);
    cairo_new_path(cr);
    cairo_arc(cr, x, y, 6, 0, 6.2831853);
    cairo_fill(cr);
    cairo_set_source_rgb(cr, 1, 1, 1);
    bk_text(cr, x - 2.6, y + 2.7, 0, 7.5, true, badges[limb]);
}

/* The limb's letter just beyond its far end. */
static void badge_of(cairo_t *cr, const frame_of *f, const bk_json *measurement, int limb)
{
    const bk_json *p = bk_limb_get(measurement, limb, "profile");
    const size_t n = bk_json_count(bk_json_get(p, "x_px"));
    if (n < 8)
        return;
    const double x1 = item(p, "x_px", n - 1), y1 = item(p, "y_px", n - 1);
    const double dx = x1 - item(p, "x_px", n - 8), dy = y1 - item(p, "y_px", n - 8), length = hypot(dx, dy);
    bk_draw_badge(cr, f->x + f->scale * x1 + 10 * dx / length, f->y + f->scale * y1 + 10 * dy / length, limb);
}

void bk_draw_numbers(cairo_t *cr, bk_box box, const bk_json *measurement, int limb)
{
    static const struct {
        const char *word, *key, *unit;
        int decimals;
    } lines[] = {{"reference", "reference_mm", "mm", 2},
                 {"MLD", "mld_mm", "mm", 2},
                 {"stenosis", "stenosis_pct", "%", 0},
                 {"length", "length_mm", "mm", 1}};
    char words[BK_WORDS], text[2 * BK_WORDS];
    const double x = box.x + 8;
    double y = box.y + 18 + limb * (box.h - 30) / 3;
    bk_ink_set(cr, BK_INK_TEXT);
    bk_format(text, sizeof text, "%s \u00b7 %s", badges[limb], bk_limb_words[limb]);
    bk_text(cr, x, y, 0, 7.6, true, text);
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        const bk_json *q = bk_limb_get(measurement, limb, lines[i].key);
        y += 9.4;
        bk_format(text, sizeof text, "%s %s", lines[i].word, bk_qty_words(words, q, lines[i].decimals, lines[i].unit));
        const double width = bk_text(cr, x, y, 0, 6.6, false, text);
        bk_ink_set(cr, BK_INK_QUIET);
        bk_text(cr, x + width + 3, y, 0, 5.2, false, bk_qty_origin_words(q));
        bk_ink_set(cr, BK_INK_TEXT);
    }
}

void bk_draw_figure(cairo_t *cr, bk_box box, const bk_json *measurement)
{
    double low[2], high[2];
    bk_ink_set(cr, BK_INK_LINE);
    cairo_set_line_width(cr, 0.5);
    cairo_rectangle(cr, box.x, box.y, box.w, box.h);
    cairo_stroke(cr);
    const double mm_per_px = bk_json_number(bk_json_path(measurement, "calibration.mm_per_px"));
    if (!range_of(measurement, low, high) || !(mm_per_px > 0)) {
        bk_ink_set(cr, BK_INK_QUIET);
        bk_text(cr, box.x + 12, box.y + 0.5 * box.h, box.w - 24, 9, false, "No scale: the drawing cannot be made.");
        return;
    }
    const bk_box part = {box.x + 128, box.y + 26, box.w - 150, box.h - 52};
    const double scale = fmin(part.w / (high[0] - low[0]), part.h / (high[1] - low[1]));
    const frame_of f = {part.x + 0.5 * part.w - scale * 0.5 * (low[0] + high[0]),
                        part.y + 0.5 * part.h - scale * 0.5 * (low[1] + high[1]), scale};
    draw_core(cr, &f, measurement);
    for (int limb = 0; limb < 3; limb++)
        draw_limb(cr, &f, measurement, limb, mm_per_px);
    for (int limb = 0; limb < 3; limb++)
        draw_mld(cr, &f, measurement, limb);
    for (int limb = 0; limb < 3; limb++) {
        badge_of(cr, &f, measurement, limb);
        bk_draw_numbers(cr, box, measurement, limb);
    }
    bk_ink_set(cr, BK_INK_QUIET);
    bk_text_right(cr, box.x + box.w - 6, box.y + box.h - 6, 5.6, false, "dashed: healthy reference \u00b7 bar: MLD");
}
