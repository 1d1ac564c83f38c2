/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The report on paper: page 1 the whole answer, page 2 the curves and what it rests on, page 3 the
   follow-up sheet where there is one. */
#include <cairo-pdf.h>
#include <stdlib.h>
#include <string.h>

#include "base/format.h"
#include "report/paper.h"
#include "report/png_bytes.h"
#include "report/sheet.h"

#define PAGE_W 595.0 /* A4 in points */
#define PAGE_H 842.0
#define EDGE 40.0
#define WIDTH (PAGE_W - 2 * EDGE)

static void rule(cairo_t *cr, double y)
{
    bk_ink_set(cr, BK_INK_LINE);
    cairo_set_line_width(cr, 0.6);
    cairo_move_to(cr, EDGE, y);
    cairo_line_to(cr, PAGE_W - EDGE, y);
    cairo_stroke(cr);
}

static void heading(cairo_t *cr, double y, const char *text)
{
    bk_ink_set(cr, BK_INK_TEXT);
    bk_text(cr, EDGE, y, WIDTH, 9.5, true, text);
}

static void footer(cairo_t *cr, const bk_report_input *in, int page, int pages)
{
    char line[BK_CELL], number[32];
    rule(cr, PAGE_H - 46);
    bk_ink_set(cr, BK_INK_TEXT);
    bk_text(cr, EDGE, PAGE_H - 35, WIDTH, 7.5, true, in->caution);
    bk_ink_set(cr, BK_INK_QUIET);
    if (in->measurement)
        bk_text(cr, EDGE, PAGE_H - 24, WIDTH - 60, 6.5, false, bk_origin_line(line, in->measurement));
    bk_format(number, sizeof number, "page %d of %d", page, pages);
    bk_text_right(cr, PAGE_W - EDGE, PAGE_H - 24, 6.5, false, number);
    bk_text(cr, EDGE, PAGE_H - 15, WIDTH, 6.5, false, in->engine);
}

static double header(cairo_t *cr, const bk_report_input *in)
{
    char line[BK_CELL];
    bk_ink_set(cr, BK_INK_TEXT);
    bk_text(cr, EDGE, 52, WIDTH, 16, true, "Coronary bifurcation, measured");
    bk_text(cr, EDGE, 68, WIDTH, 9, false, bk_case_line(line, in->case_doc));
    if (bk_is_demo(in->case_doc)) {
        bk_ink_set(cr, BK_INK_MARK);
        bk_text_right(cr, PAGE_W - EDGE, 52, 8, true, BK_DEMO_WORDS);
    }
    rule(cr, 76);
    bk_ink_set(cr, BK_INK_TEXT);
    bk_text(cr, EDGE, 90, WIDTH, 8.5, true, bk_scale_line(line, in->measurement));
    bk_text(cr, EDGE, 103, WIDTH, 8.5, false, bk_medina_line(line, in->measurement));
    bk_text(cr, EDGE, 116, WIDTH, 8.5, false, bk_core_line(line, in->measurement));
    return 126;
}

static double limb_table(cairo_t *cr, const bk_report_input *in, double y)
{
    static const double columns[BK_LIMB_COLUMNS + 1] = {0, 70, 142, 228, 300, 355, 436, 515};
    char cell[BK_CELL];
    bk_ink_set(cr, BK_INK_QUIET);
    for (int c = 0; c < BK_LIMB_COLUMNS; c++)
        bk_text(cr, EDGE + columns[c], y, columns[c + 1] - columns[c] - 3, 7, false, bk_limb_heads[c]);
    rule(cr, y + 4);
    for (int limb = 0; limb < 3; limb++) {
        y += 14;
        bk_ink_set(cr, BK_INK_TEXT);
        for (int c = 0; c < BK_LIMB_COLUMNS; c++)
            bk_text(cr, EDGE + columns[c], y, columns[c + 1] - columns[c] - 3, c == 5 || c == 2 ? 6.0 : 7.2, c == 0,
                    bk_limb_cell(cell, in->measurement, limb, c));
    }
    rule(cr, y + 5);
    return y + 24;
}

static double device_table(cairo_t *cr, const bk_report_input *in, double y)
{
    static const double columns[BK_DEVICE_COLUMNS + 1] = {0, 100, 210, 270, 515};
    char cell[BK_CELL];
    const size_t n = bk_json_count(bk_json_get(in->devices, "items"));
    heading(cr, y, "Sizes that fit");
    y += 14;
    if (n == 0) {
        bk_ink_set(cr, BK_INK_QUIET);
        bk_text(cr, EDGE, y, WIDTH, 8, false, "Sizes were not computed.");
        return y + 16;
    }
    bk_ink_set(cr, BK_INK_QUIET);
    for (int c = 0; c < BK_DEVICE_COLUMNS; c++)
        bk_text(cr, EDGE + columns[c], y, columns[c + 1] - columns[c] - 4, 7, false, bk_device_heads[c]);
    rule(cr, y + 4);
    for (size_t i = 0; i < n && i < 10; i++) {
        y += 14;
        bk_ink_set(cr, BK_INK_TEXT);
        for (int c = 0; c < BK_DEVICE_COLUMNS; c++)
            bk_text(cr, EDGE + columns[c], y, columns[c + 1] - columns[c] - 4, c == 3 ? 6.8 : 8, c == 1,
                    bk_device_cell(cell, in->devices, i, c));
    }
    rule(cr, y + 5);
    return y + 18;
}

static double kissing_line(cairo_t *cr, const bk_report_input *in, double y)
{
    char text[BK_CELL], a[BK_WORDS], b[BK_WORDS], c[BK_WORDS], d[BK_WORDS];
    const bk_json *k = bk_json_get(in->devices, "kissing");
    bk_ink_set(cr, BK_INK_TEXT);
    if (bk_json_is_object(k)) {
        bk_format(text, sizeof text, "Kissing pair where both overlap: %s \u00d7 %s, area as %s, belt as %s (upper bound)",
                  bk_qty_words(a, bk_json_at(bk_json_get(k, "axes_mm"), 0), 2, "mm"),
                  bk_qty_words(b, bk_json_at(bk_json_get(k, "axes_mm"), 1), 2, "mm"),
                  bk_qty_words(c, bk_json_get(k, "lumped_diameter_mm"), 2, "mm"),
                  bk_qty_words(d, bk_json_get(k, "perimeter_diameter_mm"), 2, "mm"));
        bk_text(cr, EDGE, y, WIDTH, 7.5, false, text);
        y += 12;
    }
    const char *hold = bk_json_text(bk_json_path(in->devices, "items.0.hold"));
    if (hold[0]) {
        bk_format(text, sizeof text, "Stent length is held back: %s.", hold);
        y = bk_paragraph(cr, EDGE, y, WIDTH, 7.5, 2, text);
    }
    return y + 8;
}

static void cautions(cairo_t *cr, const bk_report_input *in, double y)
{
    const bk_json *list = bk_json_get(in->devices, "cautions");
    char text[BK_CELL];
    if (bk_json_count(list) > 1 && y < PAGE_H - 70) {
        heading(cr, y, "Keep in mind");
        y += 13;
    }
    for (size_t i = 1; i < bk_json_count(list) && y < PAGE_H - 56; i++) { /* the first is the one at the foot */
        bk_ink_set(cr, BK_INK_TEXT);
        bk_format(text, sizeof text, "\u00b7 %s", bk_json_text(bk_json_at(list, i)));
        y = bk_paragraph(cr, EDGE, y, WIDTH, 7.5, 2, text) + 1;
    }
}

static void first_page(cairo_t *cr, const bk_report_input *in, int pages)
{
    const double top = header(cr, in), side = 0.5 * (WIDTH - 10);
    bk_draw_film(cr, (bk_box){EDGE, top, side, side}, in->picture, in->measurement);
    bk_draw_figure(cr, (bk_box){EDGE + side + 10, top, side, side}, in->measurement);
    double y = limb_table(cr, in, top + side + 18);
    y = device_table(cr, in, y);
    y = kissing_line(cr, in, y);
    cautions(cr, in, y);
    footer(cr, in, 1, pages);
}

static double warnings(cairo_t *cr, const bk_report_input *in, double y)
{
    const bk_json *list = bk_json_get(in->measurement, "warnings");
    char text[2 * BK_CELL];
    heading(cr, y, "Doubts about the measurement");
    y += 13;
    bk_ink_set(cr, BK_INK_TEXT);
    for (size_t i = 0; i < bk_json_count(list) && y < PAGE_H - 250; i++) {
        const bk_json *w = bk_json_at(list, i);
        bk_format(text, sizeof text, "\u00b7 %s (%s)", bk_json_text(bk_json_get(w, "message")), bk_json_text(bk_json_get(w, "code")));
        y = bk_paragraph(cr, EDGE, y, WIDTH, 7.5, 2, text) + 1;
    }
    return y + 10;
}

static void second_page(cairo_t *cr, const bk_report_input *in, int pages)
{
    char text[1024];
    bk_ink_set(cr, BK_INK_TEXT);
    bk_text(cr, EDGE, 52, WIDTH, 12, true, "Diameter along each limb");
    bk_ink_set(cr, BK_INK_QUIET);
    bk_text(cr, EDGE, 64, WIDTH, 7, false, "line: lumen with its 90 % band \u00b7 dashed: healthy reference \u00b7 circle: MLD \u00b7 bar on top: lesion");
    const double high = in->flow ? 106 : 140; // the pull-back takes the place of a fourth
    for (int limb = 0; limb < 3; limb++)
        bk_draw_curve(cr, (bk_box){EDGE, 74 + high * limb, WIDTH, high - 4}, in->measurement, limb);
    if (in->flow)
        bk_draw_pull_back(cr, (bk_box){EDGE, 74 + 3 * high, WIDTH, high - 4}, in->flow);
    double y = warnings(cr, in, 510);
    heading(cr, y, "Sources of the sizes");
    y += 13;
    bk_ink_set(cr, BK_INK_TEXT);
    for (size_t i = 0; i < bk_json_count(bk_json_get(in->devices, "sources")) && y < PAGE_H - 70; i++) {
        bk_source_line(text, sizeof text, in->devices, i);
        y = bk_paragraph(cr, EDGE, y, WIDTH, 6.6, 2, text) + 1;
    }
    footer(cr, in, 2, pages);
}

/* One page that can be handed on. */
static void opinion_page(cairo_t *cr, const bk_report_input *in, int page)
{
    bk_draw_sheet(cr, (bk_box){EDGE, 36, WIDTH, PAGE_H - 36 - 52}, in);
    footer(cr, in, page, page);
}

/* One line in bold, what belongs to it below. */
static double sheet_row(cairo_t *cr, double y, const char *left, const char *right, const char *below)
{
    bk_ink_set(cr, BK_INK_TEXT);
    bk_text(cr, EDGE, y, 150, 8, true, left);
    y = bk_paragraph(cr, EDGE + 155, y, WIDTH - 155, 8, 2, right);
    bk_ink_set(cr, BK_INK_QUIET);
    if (below[0])
        y = bk_paragraph(cr, EDGE + 155, y, WIDTH - 155, 6.8, 2, below);
    rule(cr, y - 4);
    return y + 9;
}

static void sheet_page(cairo_t *cr, const bk_report_input *in, int page, int pages)
{
    const bk_json *rows = bk_json_get(in->injury, "follow_up"), *definitions = bk_json_get(in->injury, "definitions");
    char text[BK_CELL];
    bk_ink_set(cr, BK_INK_TEXT);
    bk_text(cr, EDGE, 52, WIDTH, 16, true, "Follow-up sheet");
    bk_text(cr, EDGE, 68, WIDTH, 9, false, bk_case_line(text, in->case_doc));
    rule(cr, 76);
    double y = 94;
    for (size_t i = 0; i < bk_json_count(rows) && y < PAGE_H - 300; i++)
        y = sheet_row(cr, y, bk_json_text(bk_json_get(bk_json_at(rows, i), "when")), bk_json_text(bk_json_get(bk_json_at(rows, i), "what")),
                      bk_sheet_why(text, bk_json_at(rows, i)));
    y += 10;
    heading(cr, y, "Injury by each definition: none of them is the verdict");
    y += 16;
    for (size_t i = 0; i < bk_json_count(definitions) && y < PAGE_H - 110; i++)
        y = sheet_row(cr, y, bk_json_text(bk_json_get(bk_json_at(definitions, i), "name")), bk_sheet_verdict(text, bk_json_at(definitions, i)),
                      bk_json_text(bk_json_get(bk_json_at(definitions, i), "why")));
    bk_ink_set(cr, BK_INK_TEXT);
    y = bk_paragraph(cr, EDGE, y + 6, WIDTH, 7.5, 2, bk_json_text(bk_json_path(in->injury, "territory_note.text")));
    bk_paragraph(cr, EDGE, y, WIDTH, 7.5, 2, bk_json_text(bk_json_path(in->injury, "territory_note.no_conversion")));
    footer(cr, in, page, pages);
}

static void result_page(cairo_t *cr, const bk_report_input *in, int page, int pages)
{
    const bk_json *lines = bk_json_get(in->pause, "lines"), *checks = bk_json_get(in->result, "checks"),
                  *success = bk_json_get(in->result, "procedural_success");
    char text[BK_CELL];
    double y = 52;
    if (in->pause) {
        bk_ink_set(cr, BK_INK_TEXT);
        bk_text(cr, EDGE, y, WIDTH, 12, true, "Read aloud before the first wire");
        y += 18;
        for (size_t i = 0; i < bk_json_count(lines); i++)
            y = bk_paragraph(cr, EDGE, y, WIDTH, 9, 3, bk_json_text(bk_json_get(bk_json_at(lines, i), "text"))) + 3;
        y += 14;
    }
    if (in->result) {
        bk_text(cr, EDGE, y, WIDTH, 12, true, "Result");
        y += 18;
        for (size_t i = 0; i < bk_json_count(success); i++)
            y = sheet_row(cr, y, bk_json_text(bk_json_get(bk_json_at(success, i), "name")), bk_success_words(text, bk_json_at(success, i)),
                          bk_json_text(bk_json_get(bk_json_at(success, i), "why")));
        y += 8;
        for (size_t i = 0; i < bk_json_count(checks) && y < PAGE_H - 70; i++)
            y = sheet_row(cr, y, bk_result_found(text, bk_json_at(checks, i)), bk_json_text(bk_json_get(bk_json_at(checks, i), "text")),
                          bk_json_text(bk_json_get(bk_json_at(checks, i), "standing")));
    }
    footer(cr, in, page, pages);
}

static bool is_iso(const char *date)
{
    static const char form[] = "dddd-dd-ddTdd:dd:dd";
    if (!date || strlen(date) < sizeof form - 1)
        return false;
    for (size_t i = 0; i + 1 < sizeof form; i++)
        if (form[i] == 'd' ? date[i] < '0' || date[i] > '9' : date[i] != form[i])
            return false;
    return true;
}

bk_status bk_report_pdf(const bk_report_input *in, bk_report_bytes *out, bk_err *err)
{
    *out = (bk_report_bytes){0};
    cairo_surface_t *surface = cairo_pdf_surface_create_for_stream(bk_bytes_add, out, PAGE_W, PAGE_H);
    char date[20];
    bk_format(date, sizeof date, "%.19s", is_iso(in->date) ? in->date : "2000-01-01T00:00:00");
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, date);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, "Coronary bifurcation, measured");
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR, in->engine);
    cairo_t *cr = cairo_create(surface);
    const bool opinion = in->indication && in->protect, measured = in->measurement || !opinion;
    const bool around = in->pause || in->result;
    const int pages = (measured ? 2 : 0) + (in->injury ? 1 : 0) + (around ? 1 : 0) + (opinion ? 1 : 0);
    if (measured) {
        first_page(cr, in, pages);
        cairo_show_page(cr);
        second_page(cr, in, pages);
        cairo_show_page(cr);
    }
    if (in->injury) {
        sheet_page(cr, in, (measured ? 2 : 0) + 1, pages);
        cairo_show_page(cr);
    }
    if (around) {
        result_page(cr, in, (measured ? 2 : 0) + (in->injury ? 1 : 0) + 1, pages);
        cairo_show_page(cr);
    }
    if (opinion) {
        opinion_page(cr, in, pages);
        cairo_show_page(cr);
    }
    cairo_surface_finish(surface);
    cairo_status_t status = cairo_status(cr);
    if (status == CAIRO_STATUS_SUCCESS)
        status = cairo_surface_status(surface);
    cairo_destroy(cr);
    cairo_surface_destroy(surface);
    if (status == CAIRO_STATUS_SUCCESS)
        return BK_OK;
    free(out->bytes);
    *out = (bk_report_bytes){0};
    return bk_fail(err, BK_E_INTERNAL, "the PDF could not be drawn: %s", cairo_status_to_string(status));
}
