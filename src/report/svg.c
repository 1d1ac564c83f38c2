/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "report/svg.h"

#include <cairo-svg.h>
#include <stdlib.h>
#include <string.h>

#include "report/png_bytes.h"

/* cairo numbers its surfaces over the life of the process and writes the number as an id that nothing refers to:
   without it the same drawing is the same bytes. */
static void drop_surface_numbers(bk_report_bytes *svg)
{
    static const char id[] = "id=\"surface";
    char *to = svg->bytes;
    for (const char *at = svg->bytes; at && *at;) {
        const bool numbered = strncmp(at, id, sizeof id - 1) == 0;
        for (size_t i = 0; i < (numbered ? sizeof id - 1 : 1); i++)
            *to++ = *at++;
        while (numbered && *at >= '0' && *at <= '9')
            at++;
    }
    svg->n = svg->bytes ? (size_t)(to - svg->bytes) : 0;
    if (svg->bytes)
        *to = '\0'; /* what was longer before */
}

bk_status bk_svg_paint(double w, double h, bk_painter paint, const void *what, bk_report_bytes *out, bk_err *err)
{
    *out = (bk_report_bytes){0};
    cairo_surface_t *surface = cairo_svg_surface_create_for_stream(bk_bytes_add, out, w, h);
    cairo_t *cr = cairo_create(surface);
    paint(cr, (bk_box){1, 1, w - 2, h - 2}, what);
    cairo_destroy(cr);
    cairo_surface_finish(surface);
    const cairo_status_t state = cairo_surface_status(surface);
    cairo_surface_destroy(surface);
    if (state != CAIRO_STATUS_SUCCESS) {
        free(out->bytes);
        *out = (bk_report_bytes){0};
        return bk_fail(err, BK_E_INTERNAL, "a drawing failed: %s", cairo_status_to_string(state));
    }
    drop_surface_numbers(out);
    return BK_OK;
}
