/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The bifurcation in space as a line drawing: what a C-arm position would show, without the rest of the patient. Limbs are
   see-through, as on film, so that overlap shows. */
#include <math.h>

#include "base/format.h"
#include "core/anatomy/space/carm.h"
#include "core/anatomy/space/position.h"
#include "report/canvas.h"
#include "report/svg.h"

#define SID_MM 1000.0 /* of the drawing: perspective as in a room, see docs/methods/views.md */
#define SOD_MM 750.0
#define FARTHEST_MM 500.0
#define POINTS_MAX 1000
#define BAND 1.645 /* SDs: 90 % of a normal distribution */

typedef struct sketch {
    bk_carm carm;
    double x, y, scale; /* page = (x, y) + scale * detector */
    const bk_json *solid;
} sketch;

/* A place on a limb's axis, on the page. */
typedef struct spot {
    double x, y, half, sd, reference; /* sd: of the diameter */
    bool there;
} spot;

static size_t count_of(const sketch *s, int limb)
{
    const size_t n = bk_json_count(bk_limb_get(s->solid, limb, "points_mm"));
    return n < POINTS_MAX ? n : POINTS_MAX;
}

static double item(const sketch *s, int limb, const char *key, size_t i)
{
    return bk_json_number(bk_json_at(bk_limb_get(s->solid, limb, key), i));
}

static bk_vec point_of(const sketch *s, int limb, size_t i)
{
    const bk_json *p = bk_json_at(bk_limb_get(s->solid, limb, "points_mm"), i);
    return bk_vec_of(bk_json_number(bk_json_at(p, 0)), bk_json_number(bk_json_at(p, 1)), bk_json_number(bk_json_at(p, 2)));
}

static spot spot_of(const sketch *s, int limb, size_t i)
{
    const bk_vec p = point_of(s, limb, i);
    if (!(bk_vec_length(p) <= FARTHEST_MM))
        return (spot){0};
    const bk_pt_px at = bk_carm_project(&s->carm, p);
    const double unit = s->scale / bk_carm_mm_per_px(&s->carm, p), one = item(s, limb, "sd_mm", i);
    const double sd = isfinite(one) ? one : bk_json_number(bk_json_get(bk_limb_get(s->solid, limb, "mld_mm"), "sd"));
    const double half = 0.5 * unit * item(s, limb, "diameter_mm", i), reference = item(s, limb, "profile_reference_mm", i);
    const spot out = {s->x + s->scale * at.x, s->y + s->scale * at.y, half, isfinite(sd) ? unit * sd : 0, 0.5 * unit * reference,
                      half >= 0 && half < 1e5};
    return out;
}

/* Unit normal of the axis on the page; NaN where it runs along the ray. */
static void normal_of(const sketch *s, int limb, size_t i, double *nx, double *ny)
{
    const size_t n = count_of(s, limb), a = i > 0 ? i - 1 : 0, b = i + 1 < n ? i + 1 : i;
    const spot from = spot_of(s, limb, a), to = spot_of(s, limb, b);
    const double dx = to.x - from.x, dy = to.y - from.y, length = hypot(dx, dy);
    *nx = length > 1e-6 ? dy / length : (double)NAN;
    *ny = length > 1e-6 ? -dx / length : (double)NAN;
}

static double position_of(const sketch *s, int limb, size_t i)
{
    double sum = 0;
    for (size_t k = 1; k <= i; k++)
        sum += bk_vec_length(bk_vec_sub(point_of(s, limb, k), point_of(s, limb, k - 1)));
    return sum;
}

/* First sample beyond the core; without an ostium in the document, beyond the widest first diameter. */
static size_t first_beyond_core(const sketch *s, int limb)
{
    double from = bk_json_number(bk_limb_get(s->solid, limb, "ostium_mm"));
    if (!isfinite(from)) {
        from = 0;
        for (int i = 0; i < 3; i++)
            from = fmax(from, 0.5 * item(s, i, "diameter_mm", 0));
    }
    const size_t n = count_of(s, limb);
    size_t i = 0;
    for (double at = 0; i + 1 < n && at < from; i++)
        at += bk_vec_length(bk_vec_sub(point_of(s, limb, i + 1), point_of(s, limb, i)));
    return i;
}

/* One edge as a path: the reference, or the lumen moved outwards by `sds` SDs of its radius; backwards from the far end when asked. */
static void edge(cairo_t *cr, const sketch *s, int limb, size_t from, double side, double sds, bool reference, bool backwards)
{
    const size_t n = count_of(s, limb);
    for (size_t k = from; k < n; k++) {
        const size_t i = backwards ? n - 1 - (k - from) : k;
        const spot at = spot_of(s, limb, i);
        double nx, ny;
        normal_of(s, limb, i, &nx, &ny);
        const double out = side * (reference ? at.reference : fmax(at.half + 0.5 * sds * at.sd, 0));
        if (at.there && isfinite(nx * out + ny))
            cairo_line_to(cr, at.x + nx * out, at.y + ny * out);
    }
}

static double core_half(const sketch *s)
{
    double half = 0;
    for (int limb = 0; limb < 3; limb++)
        half = fmax(half, spot_of(s, limb, 0).half);
    return half;
}

/* Filled shapes, all in one tone: where limbs lie over each other only their outlines tell. */
static void fill_lumen(cairo_t *cr, const sketch *s)
{
    const spot branch = spot_of(s, 0, 0);
    cairo_set_source_rgb(cr, 0.88, 0.89, 0.91); /* opaque: the same tone where two lie over each other */
    for (int limb = 0; limb < 3; limb++) {
        cairo_new_path(cr);
        edge(cr, s, limb, 0, 1, 0, false, false);
        edge(cr, s, limb, 0, -1, 0, false, true);
        cairo_close_path(cr);
        cairo_fill(cr);
    }
    cairo_arc(cr, branch.x, branch.y, core_half(s), 0, 6.2831853);
    cairo_fill(cr);
}

static void draw_edges(cairo_t *cr, const sketch *s, int limb)
{
    const size_t from = first_beyond_core(s, limb);
    const double dash[2] = {2, 2};
    for (int side = -1; side <= 1; side += 2) {
        cairo_new_path(cr);
        edge(cr, s, limb, from, side, BAND, false, false);
        edge(cr, s, limb, from, side, -BAND, false, true);
        cairo_close_path(cr);
        cairo_set_source_rgb(cr, 0.62, 0.67, 0.71);
        cairo_fill(cr);
        edge(cr, s, limb, from, side, 0, false, false);
        bk_ink_set(cr, BK_INK_LUMEN);
        cairo_set_line_width(cr, 0.5);
        cairo_stroke(cr);
        edge(cr, s, limb, from, side, 0, true, false);
        bk_ink_set(cr, BK_INK_QUIET);
        cairo_set_dash(cr, dash, 2, 0);
        cairo_set_line_width(cr, 0.5);
        cairo_stroke(cr);
        cairo_set_dash(cr, NULL, 0, 0);
    }
}

static size_t narrowest(const sketch *s, int limb)
{
    const double told = bk_json_number(bk_limb_get(s->solid, limb, "mld_position_mm"));
    const size_t n = count_of(s, limb), from = first_beyond_core(s, limb);
    size_t best = from;
    for (size_t i = from; i < n; i++) {
        const bool better = isfinite(told) ? fabs(position_of(s, limb, i) - told) < fabs(position_of(s, limb, best) - told)
                                           : item(s, limb, "diameter_mm", i) < item(s, limb, "diameter_mm", best);
        best = better ? i : best;
    }
    return best;
}

static void draw_mld(cairo_t *cr, const sketch *s, int limb)
{
    const size_t i = narrowest(s, limb);
    const spot at = spot_of(s, limb, i);
    double nx, ny;
    normal_of(s, limb, i, &nx, &ny);
    const double out = at.half + 4;
    if (!at.there || !isfinite(nx))
        return;
    bk_ink_set(cr, BK_INK_MARK);
    cairo_set_line_width(cr, 1.2);
    cairo_move_to(cr, at.x - nx * out, at.y - ny * out);
    cairo_line_to(cr, at.x + nx * out, at.y + ny * out);
    cairo_stroke(cr);
}

static void draw_letter(cairo_t *cr, const sketch *s, int limb)
{
    const size_t n = count_of(s, limb), from = n > n / 6 + 1 ? n - 1 - n / 6 : 0;
    if (n < 2)
        return;
    const spot end = spot_of(s, limb, n - 1), before = spot_of(s, limb, from);
    const double length = hypot(end.x - before.x, end.y - before.y);
    const double along = length > 1e-6 ? 10 / length : 0;
    bk_draw_badge(cr, end.x + along * (end.x - before.x), end.y + along * (end.y - before.y), limb);
}

static void draw_scale(cairo_t *cr, const sketch *s, bk_box box, double up)
{
    const double mm = s->scale / bk_carm_mm_per_px(&s->carm, point_of(s, 0, 0));
    const double length = 10 * mm, x = box.x + box.w - 6 - length, y = box.y + box.h - 6 - up;
    if (!(length > 2 && length < box.w - 12))
        return;
    bk_ink_set(cr, BK_INK_QUIET);
    cairo_set_line_width(cr, 1);
    cairo_move_to(cr, x, y);
    cairo_line_to(cr, x + length, y);
    cairo_stroke(cr);
    bk_text_right(cr, box.x + box.w - 6, y - 3, 5.6, false, "10 mm");
}

/* Fit the bifurcation into the box; false: nothing to be drawn. */
static bool lay_out(sketch *s, bk_box box)
{
    double low[2] = {INFINITY, INFINITY}, high[2] = {-INFINITY, -INFINITY};
    bk_err ignored = {0};
    s->x = s->y = 0;
    s->scale = 1;
    if (bk_carm_set(&s->carm, &ignored) != BK_OK)
        return false;
    for (int limb = 0; limb < 3; limb++)
        for (size_t i = 0; i < count_of(s, limb); i++) {
            const spot at = spot_of(s, limb, i);
            const double v[2] = {at.x, at.y};
            for (int k = 0; k < 2 && at.there; k++) {
                low[k] = fmin(low[k], v[k] - at.half);
                high[k] = fmax(high[k], v[k] + at.half);
            }
        }
    if (!(high[0] > low[0] && high[1] > low[1]))
        return false;
    s->scale = fmin(box.w / (high[0] - low[0]), box.h / (high[1] - low[1]));
    s->x = box.x + 0.5 * box.w - s->scale * 0.5 * (low[0] + high[0]);
    s->y = box.y + 0.5 * box.h - s->scale * 0.5 * (low[1] + high[1]);
    return true;
}

static void draw_angles(cairo_t *cr, bk_box box, const bk_json *solid)
{
    char words[BK_WORDS], text[2 * BK_WORDS];
    bk_ink_set(cr, BK_INK_TEXT);
    bk_format(text, sizeof text, "Angle distal to side %s, in space",
              bk_qty_words(words, bk_json_path(solid, "angles.distal_side_deg"), 0, "\u00b0"));
    bk_text(cr, box.x + 8, box.y + box.h - 7, 0, 6.6, false, text);
}

void bk_draw_solid(cairo_t *cr, bk_box box, const bk_json *solid, double primary_deg, double secondary_deg, bool numbers)
{
    char words[BK_POSITION_WORDS], text[2 * BK_POSITION_WORDS];
    const double left = numbers ? 128 : 18;
    const bk_box part = {box.x + left, box.y + 26, box.w - left - 20, box.h - 52};
    sketch s = {.carm = {.primary_deg = primary_deg, .secondary_deg = secondary_deg, .sid_mm = SID_MM, .sod_mm = SOD_MM,
                         .spacing_mm = {1, 1}, .rows = 1, .cols = 1},
                .solid = solid};
    bk_ink_set(cr, BK_INK_LINE);
    cairo_set_line_width(cr, 0.5);
    cairo_rectangle(cr, box.x, box.y, box.w, box.h);
    cairo_stroke(cr);
    bk_ink_set(cr, BK_INK_QUIET);
    if (!lay_out(&s, part)) {
        bk_text(cr, box.x + 12, box.y + 0.5 * box.h, box.w - 24, 9, false, "No curves in space: the drawing cannot be made.");
        return;
    }
    bk_format(text, sizeof text, "seen from %s", bk_position_words(words, primary_deg, secondary_deg));
    bk_text_right(cr, box.x + box.w - 6, box.y + 10, 6.6, false, text);
    fill_lumen(cr, &s);
    for (int limb = 0; limb < 3; limb++)
        draw_edges(cr, &s, limb);
    for (int limb = 0; limb < 3; limb++) {
        draw_mld(cr, &s, limb);
        draw_letter(cr, &s, limb);
        if (numbers)
            bk_draw_numbers(cr, box, solid, limb);
    }
    draw_scale(cr, &s, box, numbers ? 12 : 0);
    if (!numbers)
        return;
    draw_angles(cr, box, solid);
    bk_ink_set(cr, BK_INK_QUIET);
    bk_text_right(cr, box.x + box.w - 6, box.y + box.h - 7, 5.6, false, "band: 90 % of the lumen's edge \u00b7 dashed: healthy reference \u00b7 bar: MLD");
}

typedef struct asked {
    const bk_json *solid;
    double primary_deg, secondary_deg;
} asked;

static void paint(cairo_t *cr, bk_box box, const void *what)
{
    const asked *a = what;
    bk_draw_solid(cr, box, a->solid, a->primary_deg, a->secondary_deg, true);
}

bk_status bk_solid_svg(const bk_json *solid, double primary_deg, double secondary_deg, bk_report_bytes *out, bk_err *err)
{
    const asked a = {solid, primary_deg, secondary_deg};
    return bk_svg_paint(520, 340, paint, &a, out, err);
}
