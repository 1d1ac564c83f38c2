/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Diameter along a limb. */
#include <math.h>

#include "base/format.h"
#include "base/number.h"
#include "report/canvas.h"

typedef struct axes {
    bk_box box; /* of the plot */
    double x_max, y_max;
} axes;

static double page_x(const axes *a, double mm)
{
    return a->box.x + a->box.w * mm / a->x_max;
}
static double page_y(const axes *a, double mm)
{
    return a->box.y + a->box.h * (1 - mm / a->y_max);
}

static double item(const bk_json *profile, const char *key, size_t i)
{
    return bk_json_number(bk_json_at(bk_json_get(profile, key), i));
}

static void draw_axes(cairo_t *cr, const axes *a)
{
    char number[BK_NUMBER_TEXT];
    cairo_set_line_width(cr, 0.4);
    for (double mm = 0; mm <= a->y_max + 1e-9; mm += 1) {
        bk_ink_set(cr, BK_INK_LINE);
        cairo_move_to(cr, a->box.x, page_y(a, mm));
        cairo_line_to(cr, a->box.x + a->box.w, page_y(a, mm));
        cairo_stroke(cr);
        bk_ink_set(cr, BK_INK_QUIET);
        bk_text_right(cr, a->box.x - 4, page_y(a, mm) + 2.5, 6.5, false, bk_number_fixed(number, mm, 0));
    }
    for (double mm = 0; mm <= a->x_max + 1e-9; mm += 5) {
        bk_ink_set(cr, BK_INK_LINE);
        cairo_move_to(cr, page_x(a, mm), a->box.y + a->box.h);
        cairo_line_to(cr, page_x(a, mm), a->box.y + a->box.h + 3);
        cairo_stroke(cr);
        bk_ink_set(cr, BK_INK_QUIET);
        bk_text(cr, page_x(a, mm) - 3, a->box.y + a->box.h + 10, 0, 6.5, false, bk_number_fixed(number, mm, 0));
    }
    bk_text_right(cr, a->box.x + a->box.w, a->box.y + a->box.h + 18, 6.5, false, "mm from the branch point (as projected)");
}

static void draw_band(cairo_t *cr, const axes *a, const bk_json *p, size_t n)
{
    cairo_new_path(cr);
    for (size_t k = 0; k < 2 * n; k++) {
        const size_t i = k < n ? k : 2 * n - 1 - k;
        const double d = item(p, "diameter_mm", i), sd = item(p, "sd_mm", i), x = item(p, "position_mm", i);
        if (isfinite(d + sd + x))
            cairo_line_to(cr, page_x(a, x), page_y(a, fmin(fmax(d + (k < n ? 1.645 : -1.645) * sd, 0), a->y_max)));
    }
    cairo_close_path(cr);
    bk_ink_set(cr, BK_INK_BAND);
    cairo_fill(cr);
}

static void draw_series(cairo_t *cr, const axes *a, const bk_json *p, size_t n, const char *key)
{
    cairo_new_path(cr);
    for (size_t i = 0; i < n; i++) {
        const double d = item(p, key, i), x = item(p, "position_mm", i);
        if (isfinite(d + x))
            cairo_line_to(cr, page_x(a, x), page_y(a, d));
    }
    cairo_stroke(cr);
}

static void draw_marks(cairo_t *cr, const axes *a, const bk_json *measurement, int limb)
{
    const double at = bk_json_number(bk_limb_get(measurement, limb, "mld_position_mm"));
    const double mld = bk_json_number(bk_json_get(bk_limb_get(measurement, limb, "mld_mm"), "value"));
    const double from = bk_json_number(bk_limb_get(measurement, limb, "lesion_from_mm"));
    const double to = bk_json_number(bk_limb_get(measurement, limb, "lesion_to_mm"));
    bk_ink_set(cr, BK_INK_MARK);
    cairo_set_line_width(cr, 1);
    if (isfinite(at + mld)) {
        cairo_new_path(cr);
        cairo_arc(cr, page_x(a, at), page_y(a, mld), 2.4, 0, 6.2831853);
        cairo_stroke(cr);
    }
    if (isfinite(from + to)) {
        cairo_move_to(cr, page_x(a, from), a->box.y + 4);
        cairo_line_to(cr, page_x(a, to), a->box.y + 4);
        cairo_stroke(cr);
    }
}

void bk_draw_curve(cairo_t *cr, bk_box box, const bk_json *measurement, int limb)
{
    const bk_json *p = bk_limb_get(measurement, limb, "profile");
    const size_t n = bk_json_count(bk_json_get(p, "position_mm"));
    char words[BK_WORDS], title[3 * BK_WORDS];
    bk_format(title, sizeof title, "%s \u00b7 lesion %s", bk_limb_words[limb],
              bk_qty_words(words, bk_limb_get(measurement, limb, "lesion_length_mm"), 1, "mm long"));
    bk_ink_set(cr, BK_INK_TEXT);
    bk_text(cr, box.x, box.y + 9, box.w, 8.5, true, title);
    axes a = {{box.x + 20, box.y + 18, box.w - 24, box.h - 40}, 10, 3};
    for (size_t i = 0; i < n; i++) {
        a.x_max = fmin(fmax(a.x_max, item(p, "position_mm", i)), 200);
        a.y_max = fmin(fmax(a.y_max, ceil(fmax(item(p, "diameter_mm", i), item(p, "reference_mm", i)) + 0.3)), 20);
    }
    draw_axes(cr, &a);
    cairo_save(cr);
    cairo_rectangle(cr, a.box.x, a.box.y, a.box.w, a.box.h);
    cairo_clip(cr);
    draw_band(cr, &a, p, n);
    const double dash[2] = {3, 2};
    bk_ink_set(cr, BK_INK_QUIET);
    cairo_set_line_width(cr, 0.8);
    cairo_set_dash(cr, dash, 2, 0);
    draw_series(cr, &a, p, n, "reference_mm");
    cairo_set_dash(cr, NULL, 0, 0);
    bk_ink_set(cr, BK_INK_LUMEN);
    cairo_set_line_width(cr, 1.1);
    draw_series(cr, &a, p, n, "diameter_mm");
    draw_marks(cr, &a, measurement, limb);
    cairo_restore(cr);
}
