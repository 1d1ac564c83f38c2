/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The report as one self-contained page without scripts. Pictures are data addresses: SVG of cairo's own making
   inside <img>, so that the ids of several drawings cannot meet. */
#include <stdlib.h>
#include <string.h>

#include "base/format.h"
#include "report/paper.h"
#include "report/png_bytes.h"
#include "report/sheet.h"
#include "report/svg.h"

typedef struct page {
    const bk_report_input *in;
    bk_report_bytes bytes;
    bk_err *err;
} page;

static void raw(page *p, const char *text)
{
    if (p->err->status == BK_OK && bk_bytes_add(&p->bytes, (const unsigned char *)text, (unsigned)strlen(text)) != CAIRO_STATUS_SUCCESS)
        bk_fail(p->err, BK_E_LIMIT, "the report needs more than %zu bytes", BK_REPORT_BYTES_MAX);
}

/* Text from documents: escaped, control characters as blanks. */
static void escaped(page *p, const char *text)
{
    char one[2] = {0};
    for (; *text; text++) {
        one[0] = (unsigned char)*text < 0x20 || *text == 0x7f ? ' ' : *text;
        raw(p, one[0] == '<' ? "&lt;" : one[0] == '>' ? "&gt;" : one[0] == '&' ? "&amp;" : one[0] == '"' ? "&quot;" : one);
    }
}

static void element(page *p, const char *tag, const char *text)
{
    raw(p, "<");
    raw(p, tag);
    raw(p, ">");
    escaped(p, text);
    raw(p, "</");
    raw(p, tag);
    raw(p, ">\n");
}

static void data_image(page *p, const char *kind, const bk_report_bytes *bytes, const char *alt)
{
    raw(p, "<img alt=\"");
    escaped(p, alt);
    raw(p, "\" src=\"data:image/");
    raw(p, kind);
    raw(p, ";base64,");
    if (p->err->status == BK_OK)
        (void)!bk_bytes_add_base64(&p->bytes, bytes, p->err);
    raw(p, "\">\n");
}

typedef struct drawn {
    const bk_json *measurement, *flow;
    int limb;
} drawn;

static void paint_figure(cairo_t *cr, bk_box box, const void *what)
{
    bk_draw_figure(cr, box, ((const drawn *)what)->measurement);
}
static void paint_curve(cairo_t *cr, bk_box box, const void *what)
{
    const drawn *d = what;
    bk_draw_curve(cr, box, d->measurement, d->limb);
}

static void paint_pull_back(cairo_t *cr, bk_box box, const void *what)
{
    bk_draw_pull_back(cr, box, ((const drawn *)what)->flow);
}

static void drawing(page *p, bk_painter paint, double w, double h, int limb, const char *alt)
{
    bk_report_bytes svg = {0};
    const drawn what = {p->in->measurement, p->in->flow, limb};
    if (bk_svg_paint(w, h, paint, &what, &svg, p->err) == BK_OK)
        data_image(p, "svg+xml", &svg, alt);
    free(svg.bytes);
}

static void film(page *p)
{
    bk_report_bytes png = {0};
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, 720, 720);
    cairo_t *cr = cairo_create(surface);
    cairo_scale(cr, 2, 2);
    bk_draw_film(cr, (bk_box){0, 0, 360, 360}, p->in->picture, p->in->measurement);
    cairo_destroy(cr);
    if (p->err->status == BK_OK && bk_png_bytes(surface, &png, p->err) == BK_OK)
        data_image(p, "png", &png, p->in->picture ? "the frame with the measured outlines" : "pixels were not given");
    free(png.bytes);
    cairo_surface_destroy(surface);
}

static void table_head(page *p, const char *const *heads, int n)
{
    raw(p, "<table><tr>");
    for (int c = 0; c < n; c++)
        element(p, "th", heads[c]);
    raw(p, "</tr>\n");
}

static void tables(page *p)
{
    char cell[BK_CELL];
    const size_t n = bk_json_count(bk_json_get(p->in->devices, "items"));
    table_head(p, bk_limb_heads, BK_LIMB_COLUMNS);
    for (int limb = 0; limb < 3; limb++) {
        raw(p, "<tr>");
        for (int c = 0; c < BK_LIMB_COLUMNS; c++)
            element(p, "td", bk_limb_cell(cell, p->in->measurement, limb, c));
        raw(p, "</tr>\n");
    }
    raw(p, "</table>\n");
    element(p, "h2", "Sizes that fit");
    if (n == 0) {
        element(p, "p", "Sizes were not computed.");
        return;
    }
    table_head(p, bk_device_heads, BK_DEVICE_COLUMNS);
    for (size_t i = 0; i < n && i < 20; i++) {
        raw(p, "<tr>");
        for (int c = 0; c < BK_DEVICE_COLUMNS; c++)
            element(p, "td", bk_device_cell(cell, p->in->devices, i, c));
        raw(p, "</tr>\n");
    }
    raw(p, "</table>\n");
}

static void lists(page *p)
{
    char text[1024];
    const bk_json *cautions = bk_json_get(p->in->devices, "cautions"), *warnings = bk_json_get(p->in->measurement, "warnings");
    element(p, "h2", "Keep in mind");
    raw(p, "<ul>");
    for (size_t i = 1; i < bk_json_count(cautions) && i < 50; i++)
        element(p, "li", bk_json_text(bk_json_at(cautions, i)));
    for (size_t i = 0; i < bk_json_count(warnings) && i < 50; i++)
        element(p, "li", bk_json_text(bk_json_get(bk_json_at(warnings, i), "message")));
    raw(p, "</ul>\n");
    element(p, "h2", "Sources of the sizes");
    raw(p, "<ul>");
    for (size_t i = 0; i < bk_json_count(bk_json_get(p->in->devices, "sources")) && i < 50; i++)
        element(p, "li", bk_source_line(text, sizeof text, p->in->devices, i));
    raw(p, "</ul>\n");
}

static void rows_of(page *p, const bk_report_input *in, bk_sheet_part part)
{
    char left[BK_CELL], right[2 * BK_CELL];
    raw(p, "<table>\n");
    for (size_t i = 0; bk_sheet_row(in, part, i, left, right); i++) {
        raw(p, "<tr>");
        element(p, "td", left);
        element(p, "td", right);
        raw(p, "</tr>\n");
    }
    raw(p, "</table>\n");
}

/* What can be handed on for a second opinion. */
static void opinion_sheet(page *p)
{
    bk_report_bytes svg = {0};
    if (!p->in->indication || !p->in->protect)
        return;
    element(p, "h2", "Case sheet for a second opinion");
    if (bk_strata_svg(p->in->protect, &svg, p->err) == BK_OK)
        data_image(p, "svg+xml", &svg, "main-vessel against side-branch stenosis with the published strata and this case");
    free(svg.bytes);
    for (int part = 0; part < BK_SHEET_PARTS; part++) {
        element(p, "h2", bk_sheet_heads[part]);
        rows_of(p, p->in, (bk_sheet_part)part);
    }
    element(p, "p", bk_sheet_note);
}

static void cells(page *p, const char *a, const char *b, const char *c)
{
    raw(p, "<tr>");
    element(p, "td", a);
    element(p, "td", b);
    element(p, "td", c);
    raw(p, "</tr>\n");
}

static void sheet(page *p)
{
    const bk_json *rows = bk_json_get(p->in->injury, "follow_up"), *definitions = bk_json_get(p->in->injury, "definitions");
    char text[BK_CELL];
    element(p, "h2", "Follow-up sheet");
    table_head(p, (const char *const[]){"when", "what", "why, and how it is known"}, 3);
    for (size_t i = 0; i < bk_json_count(rows); i++)
        cells(p, bk_json_text(bk_json_get(bk_json_at(rows, i), "when")), bk_json_text(bk_json_get(bk_json_at(rows, i), "what")),
              bk_sheet_why(text, bk_json_at(rows, i)));
    raw(p, "</table>\n");
    element(p, "h2", "Injury by each definition: none of them is the verdict");
    table_head(p, (const char *const[]){"definition", "verdict", "the clause that decides"}, 3);
    for (size_t i = 0; i < bk_json_count(definitions); i++)
        cells(p, bk_json_text(bk_json_get(bk_json_at(definitions, i), "name")), bk_sheet_verdict(text, bk_json_at(definitions, i)),
              bk_json_text(bk_json_get(bk_json_at(definitions, i), "why")));
    raw(p, "</table>\n");
    element(p, "p", bk_json_text(bk_json_path(p->in->injury, "territory_note.text")));
    element(p, "p", bk_json_text(bk_json_path(p->in->injury, "territory_note.no_conversion")));
}

static void pause(page *p)
{
    const bk_json *rows = bk_json_get(p->in->pause, "lines");
    element(p, "h2", "Read aloud before the first wire");
    for (size_t i = 0; i < bk_json_count(rows); i++)
        element(p, "p", bk_json_text(bk_json_get(bk_json_at(rows, i), "text")));
}

static void result(page *p)
{
    const bk_json *checks = bk_json_get(p->in->result, "checks"), *success = bk_json_get(p->in->result, "procedural_success");
    char text[BK_CELL];
    element(p, "h2", "Result");
    table_head(p, (const char *const[]){"what", "found, and the line", "how it is known"}, 3);
    for (size_t i = 0; i < bk_json_count(checks); i++)
        cells(p, bk_json_text(bk_json_get(bk_json_at(checks, i), "text")), bk_result_found(text, bk_json_at(checks, i)),
              bk_json_text(bk_json_get(bk_json_at(checks, i), "standing")));
    raw(p, "</table>\n");
    element(p, "h2", "Procedural success by each definition: none of them is the verdict");
    table_head(p, (const char *const[]){"definition", "verdict", "why"}, 3);
    for (size_t i = 0; i < bk_json_count(success); i++)
        cells(p, bk_json_text(bk_json_get(bk_json_at(success, i), "name")), bk_success_words(text, bk_json_at(success, i)),
              bk_json_text(bk_json_get(bk_json_at(success, i), "why")));
    raw(p, "</table>\n");
}

static const char style[] =
    "<style>body{font:15px/1.45 'DejaVu Sans',sans-serif;color:#1a1c21;max-width:62rem;margin:2rem auto;padding:0 1rem}"
    "h1{font-size:1.5rem;margin:0}h2{font-size:1.05rem;margin:1.6rem 0 .4rem}p{margin:.25rem 0}"
    ".pair{display:flex;gap:1rem;flex-wrap:wrap}.pair img{flex:1 1 20rem;min-width:0;max-width:100%;height:auto}"
    "table{border-collapse:collapse;width:100%;font-size:.86rem}th{text-align:left;font-weight:400;color:#6b7078}"
    "th,td{padding:.25rem .6rem .25rem 0;border-bottom:1px solid #d5d8dc}td:first-child{font-weight:700}"
    ".demo{color:#b8551a;font-weight:700}.foot{border-top:1px solid #b8bcc2;margin-top:2rem;padding-top:.5rem}"
    "img{max-width:100%}</style>\n";

/* The picture and what was measured in it. */
static void measured(page *p)
{
    const bk_json *m = p->in->measurement;
    char line[BK_CELL];
    element(p, "p", bk_scale_line(line, m));
    element(p, "p", bk_medina_line(line, m));
    element(p, "p", bk_core_line(line, m));
    raw(p, "<div class=\"pair\">\n");
    film(p);
    drawing(p, paint_figure, 360, 360, 0, "the bifurcation as a drawing with its numbers");
    raw(p, "</div>\n");
    tables(p);
    element(p, "h2", "Diameter along each limb");
    for (int limb = 0; limb < 3; limb++)
        drawing(p, paint_curve, 720, 190, limb, bk_limb_words[limb]);
    if (p->in->flow)
        drawing(p, paint_pull_back, 720, 190, 0, "Pd/Pa along the vessel, computed");
    lists(p);
}

bk_status bk_report_html(const bk_report_input *in, bk_report_bytes *out, bk_err *err)
{
    bk_err local = {0};
    page p = {.in = in, .err = err ? err : &local};
    char line[BK_CELL];
    raw(&p, "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n"
            "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'\">\n"
            "<title>Coronary bifurcation, measured</title>\n");
    raw(&p, style);
    raw(&p, "</head><body>\n");
    element(&p, "h1", "Coronary bifurcation, measured");
    if (bk_is_demo(in->case_doc))
        raw(&p, "<p class=\"demo\">" BK_DEMO_WORDS "</p>\n");
    element(&p, "p", bk_case_line(line, in->case_doc));
    if (in->measurement || !in->indication)
        measured(&p);
    if (in->pause)
        pause(&p);
    if (in->result)
        result(&p);
    if (in->injury)
        sheet(&p);
    opinion_sheet(&p);
    raw(&p, "<div class=\"foot\">\n");
    element(&p, "p", in->caution);
    if (in->measurement)
        element(&p, "p", bk_origin_line(line, in->measurement));
    element(&p, "p", in->engine);
    raw(&p, "</div></body></html>\n");
    if (p.err->status != BK_OK) {
        free(p.bytes.bytes);
        p.bytes = (bk_report_bytes){0};
    }
    *out = p.bytes;
    return p.err->status;
}
