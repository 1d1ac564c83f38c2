/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pd/Pa along the vessel, as `ask flow` worked it out. */
#include <math.h>

#include "base/format.h"
#include "base/number.h"
#include "report/canvas.h"

#define TREAT_AT 0.80

typedef struct axes {
    bk_box box; /* of the plot */
    double x_max, y_min;
} axes;

static double page_x(const axes *a, double mm)
{
    return a->box.x + a->box.w * mm / a->x_max;
}
static double page_y(const axes *a, double ratio)
{
    return a->box.y + a->box.h * (1 - ratio) / (1 - a->y_min);
}

static const bk_json *curve_of(const bk_json *before, int limb)
{
    return bk_json_get(bk_json_get(before, bk_limb_keys[limb]), "pull_back");
}

static double item(const bk_json *curve, const char *key, size_t i)
{
    return bk_json_number(bk_json_at(bk_json_get(curve, key), i));
}

static size_t count(const bk_json *curve)
{
    const size_t n = bk_json_count(bk_json_get(curve, "position_mm"));
    return n == bk_json_count(bk_json_get(curve, "pd_pa")) ? n : 0;
}

static double length_of(const bk_json *curve)
{
    const double mm = count(curve) ? item(curve, "position_mm", count(curve) - 1) : 0;
    return isfinite(mm) ? fmin(fmax(mm, 0), 300) : 0;
}

static axes axes_of(const bk_json *before, bk_box box)
{
    axes a = {{box.x + 20, box.y + 18, box.w - 34, box.h - 40}, 10, 0.7};
    const double trunk = length_of(curve_of(before, 0));
    for (int limb = 0; limb < 3; limb++) {
        const bk_json *curve = curve_of(before, limb);
        a.x_max = fmax(a.x_max, (limb ? trunk : 0) + length_of(curve));
        for (size_t i = 0; i < count(curve); i++)
            if (isfinite(item(curve, "pd_pa", i)))
                a.y_min = fmax(0, fmin(a.y_min, floor(10 * item(curve, "pd_pa", i)) / 10));
    }
    return a;
}

static void draw_axes(cairo_t *cr, const axes *a)
{
    char number[BK_NUMBER_TEXT];
    const double dash[2] = {3, 2}, step = a->y_min < 0.5 ? 0.2 : 0.1;
    cairo_set_line_width(cr, 0.4);
    for (double ratio = 1; ratio > a->y_min - 1e-9; ratio -= step) {
        bk_ink_set(cr, BK_INK_LINE);
        cairo_move_to(cr, a->box.x, page_y(a, ratio));
        cairo_line_to(cr, a->box.x + a->box.w, page_y(a, ratio));
        cairo_stroke(cr);
        bk_ink_set(cr, BK_INK_QUIET);
        bk_text_right(cr, a->box.x - 4, page_y(a, ratio) + 2.5, 6.5, false, bk_number_fixed(number, ratio, 1));
    }
    for (double mm = 0; mm <= a->x_max + 1e-9; mm += 10)
        bk_text(cr, page_x(a, mm) - 3, a->box.y + a->box.h + 10, 0, 6.5, false, bk_number_fixed(number, mm, 0));
    bk_text_right(cr, a->box.x + a->box.w, a->box.y + a->box.h + 18, 6.5, false,
                  "mm from the start of the proximal main vessel \u00b7 dashed level: 0.80 \u00b7 computed, never measured: a wire value leads");
    cairo_set_dash(cr, dash, 2, 0);
    cairo_set_line_width(cr, 0.8);
    cairo_move_to(cr, a->box.x, page_y(a, TREAT_AT));
    cairo_line_to(cr, a->box.x + a->box.w, page_y(a, TREAT_AT));
    cairo_stroke(cr);
    cairo_set_dash(cr, NULL, 0, 0);
}

static void draw_limb(cairo_t *cr, const axes *a, const bk_json *curve, double from_mm, int limb)
{
    double x = 0, y = 0;
    bk_ink_set(cr, BK_INK_TEXT);
    cairo_set_line_width(cr, 1.2);
    cairo_new_path(cr);
    for (size_t i = 0; i < count(curve); i++) {
        const double mm = item(curve, "position_mm", i), ratio = item(curve, "pd_pa", i);
        if (!isfinite(mm + ratio))
            continue;
        x = page_x(a, from_mm + fmin(fmax(mm, 0), 300));
        y = page_y(a, fmin(fmax(ratio, a->y_min), 1));
        cairo_line_to(cr, x, y);
    }
    cairo_stroke(cr);
    if (limb && count(curve))
        bk_draw_badge(cr, x + 7, y, limb);
}

/* "Distal main 0.69 (0.47 to 0.96)", after a reading of the wire when there is one. */
static void limb_words(char *out, size_t room, const bk_json *before, int limb)
{
    char value[BK_NUMBER_TEXT], low[BK_NUMBER_TEXT], high[BK_NUMBER_TEXT], wire[BK_NUMBER_TEXT];
    const bk_json *one = bk_json_get(before, bk_limb_keys[limb]), *ffr = bk_json_get(one, "ffr");
    const double read = bk_json_number(bk_json_path(one, "measured.value"));
    bk_number_fixed(value, bk_json_number(bk_json_get(ffr, "value")), 2);
    bk_number_fixed(low, bk_json_number(bk_json_get(ffr, "low")), 2);
    bk_number_fixed(high, bk_json_number(bk_json_get(ffr, "high")), 2);
    if (isfinite(read))
        bk_format(out, room, "%s: wire %s leads, computed %s (%s to %s)", bk_limb_words[limb],
                  bk_number_fixed(wire, read, 2), value, low, high);
    else
        bk_format(out, room, "%s %s (%s to %s)", bk_limb_words[limb], value, low, high);
}

void bk_draw_pull_back(cairo_t *cr, bk_box box, const bk_json *flow)
{
    char distal[BK_WORDS], side[BK_WORDS], title[3 * BK_WORDS];
    const bk_json *before = bk_json_get(flow, "before");
    bk_ink_set(cr, BK_INK_TEXT);
    if (!bk_json_is_object(before)) {
        bk_text(cr, box.x, box.y + 9, box.w, 8.5, true, "Pd/Pa along the vessel: cannot say");
        return;
    }
    limb_words(distal, sizeof distal, before, 1);
    limb_words(side, sizeof side, before, 2);
    bk_format(title, sizeof title, "Computed Pd/Pa at hyperaemia, 90 %% interval \u00b7 %s \u00b7 %s", distal, side);
    bk_text(cr, box.x, box.y + 9, box.w, 7.5, true, title);
    const axes a = axes_of(before, box);
    draw_axes(cr, &a);
    for (int limb = 0; limb < 3; limb++)
        draw_limb(cr, &a, curve_of(before, limb), limb ? length_of(curve_of(before, 0)) : 0, limb);
}
