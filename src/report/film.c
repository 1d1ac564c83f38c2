/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The X-ray frame with what was measured on it, and the overlay picture. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/file.h"
#include "report/canvas.h"
#include "report/png_bytes.h"

void bk_report_window(bk_report_picture *picture)
{
    static const double tail = 0.005;
    const size_t n = (size_t)picture->rows * (size_t)picture->cols;
    uint32_t *count = calloc(65536, sizeof *count);
    picture->low = 0;
    picture->high = 65535;
    if (!count)
        return;
    for (size_t i = 0; i < n; i++)
        count[picture->px[i]]++;
    double below = 0;
    int low = 0, high = 65535;
    while (low < 65535 && (below += count[low]) < tail * (double)n)
        low++;
    below = 0;
    while (high > low && (below += count[high]) < tail * (double)n)
        high--;
    free(count);
    picture->low = low;
    picture->high = high > low ? high : low + 1;
}

static cairo_surface_t *grey_surface(const bk_report_picture *p)
{
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, p->cols, p->rows);
    unsigned char *bytes = cairo_image_surface_get_data(surface);
    if (!bytes)
        return surface;
    const int stride = cairo_image_surface_get_stride(surface);
    cairo_surface_flush(surface);
    for (int32_t r = 0; r < p->rows; r++)
        for (int32_t c = 0; c < p->cols; c++) {
            const double v = (p->px[(size_t)r * (size_t)p->cols + (size_t)c] - p->low) / (p->high - p->low);
            const double shown = fmin(fmax(p->inverted ? 1 - v : v, 0), 1);
            const uint32_t grey = (uint32_t)lround(255 * shown);
            const uint32_t pixel = grey << 16 | grey << 8 | grey;
            memcpy(bytes + (ptrdiff_t)r * stride + 4 * (ptrdiff_t)c, &pixel, sizeof pixel);
        }
    cairo_surface_mark_dirty(surface);
    return surface;
}

static bool point_of(const bk_json *pair, double *x, double *y)
{
    *x = bk_json_number(bk_json_at(pair, 0));
    *y = bk_json_number(bk_json_at(pair, 1));
    return isfinite(*x) && isfinite(*y);
}

static void trace_line(cairo_t *cr, const bk_json *points)
{
    double x, y;
    cairo_new_path(cr);
    for (size_t i = 0; i < bk_json_count(points); i++)
        if (point_of(bk_json_at(points, i), &x, &y))
            cairo_line_to(cr, x + 0.5, y + 0.5);
}

/* In image coordinates, where the centre of pixel (0,0) lies at 0.5, 0.5 of the surface. */
void bk_draw_outlines(cairo_t *cr, const bk_json *measurement, double line_width)
{
    static const double dashes[3][2] = {{0, 0}, {5, 2}, {2, 2}}; /* limbs are told apart without colour */
    static const char *const edges[2] = {"left_px", "right_px"};
    double x, y;
    cairo_set_line_width(cr, line_width);
    for (int limb = 0; limb < 3; limb++)
        for (int side = 0; side < 2; side++) {
            const double dash[2] = {dashes[limb][0] * line_width, dashes[limb][1] * line_width};
            trace_line(cr, bk_json_get(bk_limb_get(measurement, limb, "profile"), edges[side]));
            cairo_set_dash(cr, dash, limb == 0 ? 0 : 2, 0);
            cairo_set_source_rgba(cr, 1, 0.82, 0.35, 0.85);
            cairo_stroke(cr);
        }
    cairo_set_dash(cr, NULL, 0, 0);
    const bk_json *core = bk_json_get(measurement, "core");
    const double radius = bk_json_number(bk_json_get(core, "radius_px"));
    cairo_set_source_rgba(cr, 0.55, 0.85, 1, 0.9);
    if (point_of(bk_json_get(core, "centre_px"), &x, &y) && radius > 0 && radius < BK_RADIUS_MAX_PX) {
        cairo_new_sub_path(cr);
        cairo_arc(cr, x + 0.5, y + 0.5, radius, 0, 6.2831853);
        cairo_stroke(cr);
    }
    if (point_of(bk_json_get(measurement, "branch_point_px"), &x, &y)) {
        const double arm = 3 * line_width;
        cairo_move_to(cr, x + 0.5 - arm, y + 0.5);
        cairo_line_to(cr, x + 0.5 + arm, y + 0.5);
        cairo_move_to(cr, x + 0.5, y + 0.5 - arm);
        cairo_line_to(cr, x + 0.5, y + 0.5 + arm);
        cairo_stroke(cr);
    }
}

/* Rectangle of the frame that holds the outlines with some room, as square as the box wants it. */
static bk_box region_of(const bk_report_picture *p, const bk_json *measurement, double aspect)
{
    double x0 = INFINITY, x1 = -INFINITY, y0 = INFINITY, y1 = -INFINITY, x, y;
    for (int limb = 0; limb < 3; limb++) {
        const bk_json *points = bk_json_get(bk_limb_get(measurement, limb, "profile"), "left_px");
        for (size_t i = 0; i < bk_json_count(points); i++)
            if (point_of(bk_json_at(points, i), &x, &y)) {
                x0 = fmin(x0, x);
                x1 = fmax(x1, x);
                y0 = fmin(y0, y);
                y1 = fmax(y1, y);
            }
    }
    if (!(x1 > x0) || !(y1 > y0) || x1 > p->cols || y1 > p->rows || x0 < 0 || y0 < 0)
        return (bk_box){0, 0, p->cols, p->rows};
    const double margin = 0.15 * fmax(x1 - x0, y1 - y0) + 10;
    double w = x1 - x0 + 2 * margin, h = y1 - y0 + 2 * margin;
    if (w / h < aspect)
        w = h * aspect;
    else
        h = w / aspect;
    return (bk_box){0.5 * (x0 + x1 - w), 0.5 * (y0 + y1 - h), w, h};
}

void bk_draw_film(cairo_t *cr, bk_box box, const bk_report_picture *picture, const bk_json *measurement)
{
    cairo_save(cr);
    cairo_rectangle(cr, box.x, box.y, box.w, box.h);
    cairo_clip(cr);
    cairo_set_source_rgb(cr, 0.08, 0.08, 0.08);
    cairo_paint(cr);
    if (!picture) {
        cairo_set_source_rgb(cr, 0.8, 0.8, 0.8);
        bk_text(cr, box.x + 12, box.y + 0.5 * box.h, box.w - 24, 9, false, "The pixels of the frame were not given.");
        cairo_restore(cr);
        return;
    }
    const bk_box part = region_of(picture, measurement, box.w / box.h);
    const double scale = box.w / part.w;
    cairo_translate(cr, box.x, box.y);
    cairo_scale(cr, scale, scale);
    cairo_translate(cr, -part.x, -part.y);
    cairo_surface_t *grey = grey_surface(picture);
    cairo_set_source_surface(cr, grey, 0, 0);
    cairo_pattern_set_filter(cairo_get_source(cr), CAIRO_FILTER_BILINEAR);
    cairo_paint(cr);
    cairo_surface_destroy(grey);
    bk_draw_outlines(cr, measurement, 0.9 / scale);
    cairo_restore(cr);
}

bk_status bk_report_overlay_png(const char *path, const bk_report_picture *picture, const bk_json *measurement, bk_err *err)
{
    if (picture->rows < 1 || picture->cols < 1)
        return bk_fail(err, BK_E_USAGE, "an empty picture was found, pixels were expected");
    const int zoom = picture->rows <= 512 && picture->cols <= 512 ? 2 : 1;
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, zoom * picture->cols, zoom * picture->rows);
    cairo_t *cr = cairo_create(surface);
    cairo_surface_t *grey = grey_surface(picture);
    cairo_scale(cr, zoom, zoom);
    cairo_set_source_surface(cr, grey, 0, 0);
    cairo_pattern_set_filter(cairo_get_source(cr), CAIRO_FILTER_BILINEAR);
    cairo_paint(cr);
    bk_draw_outlines(cr, measurement, 1.0 / zoom);
    bk_report_bytes png;
    bk_status status = bk_png_bytes(surface, &png, err);
    cairo_surface_destroy(grey);
    cairo_destroy(cr);
    cairo_surface_destroy(surface);
    if (status == BK_OK)
        status = bk_file_write(path, png.bytes, png.n, err);
    free(png.bytes);
    return status;
}
