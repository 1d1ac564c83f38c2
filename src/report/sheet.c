/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "report/sheet.h"

#include <math.h>
#include <string.h>

#include "base/format.h"
#include "base/number.h"
#include "report/strata.h"

#define ROW 7.4 /* points */
#define FIRST_OPTIONS 3 /* the rest on demand: ask strategies */

const char *const bk_sheet_heads[BK_SHEET_PARTS] = {"Treat at all?", "Open", "The limbs", "Protect the side branch? Published rules",
                                                    "Options, most fitting first (not chosen)"};
const char *const bk_sheet_note = "Rules and options are laid out, not weighed; rates are of arms in registries and trials, not of this "
                                  "patient. Sources, end points and populations: ask indication, protect, strategies.";

static const char *text_of(const bk_json *object, const char *key)
{
    return bk_json_text(bk_json_get(object, key));
}

static bool read_row(const bk_report_input *in, size_t i, char left[BK_CELL], char right[2 * BK_CELL])
{
    const bk_json *read = bk_json_at(bk_json_get(in->indication, "reads"), i);
    bk_format(left, BK_CELL, "%s", text_of(read, "text"));
    const bk_json *value = bk_json_get(read, "value");
    char number[BK_NUMBER_TEXT], drift[BK_NUMBER_TEXT];
    const double off = bk_json_number(bk_json_get(read, "drift"));
    if (bk_json_is_number(value))
        bk_format(right, 2 * BK_CELL, "%s%s%s", bk_number_fixed(number, bk_json_number(value), 2), isfinite(off) ? ", drift " : "",
                  isfinite(off) ? bk_number_fixed(drift, off, 2) : "");
    else
        bk_format(right, 2 * BK_CELL, "%s", bk_json_text(value));
    return read != NULL;
}

static bool question_row(const bk_report_input *in, size_t i, char left[BK_CELL], char right[2 * BK_CELL])
{
    const bk_json *question = bk_json_at(bk_json_get(in->indication, "open_questions"), i);
    bk_format(left, BK_CELL, "%zu", i + 1);
    bk_format(right, 2 * BK_CELL, "%s", bk_json_text(question));
    return question != NULL;
}

/* What the answers used of each limb. */
static const bk_json *input_of(const bk_json *answer, const char *limb, const char *key)
{
    char name[BK_WORDS];
    const bk_json *inputs = bk_json_get(answer, "inputs");
    bk_format(name, sizeof name, "anatomy.segments.%s.%s", limb, key);
    for (size_t i = 0; i < bk_json_count(inputs); i++)
        if (strcmp(text_of(bk_json_at(inputs, i), "name"), name) == 0)
            return bk_json_at(inputs, i);
    return NULL;
}

static bool limb_row(const bk_report_input *in, size_t i, char left[BK_CELL], char right[2 * BK_CELL])
{
    char reference[BK_WORDS], stenosis[BK_WORDS];
    if (i >= 3)
        return false;
    const bk_json *d = input_of(in->devices, bk_limb_keys[i], "reference_mm"), *s = input_of(in->indication, bk_limb_keys[i], "stenosis_pct");
    bk_format(left, BK_CELL, "%s", bk_limb_words[i]);
    bk_format(right, 2 * BK_CELL, "reference %s, stenosis %s%s%s%s", d ? bk_qty_words(reference, d, 2, "mm") : "cannot say",
              s ? bk_qty_words(stenosis, s, 0, "%") : "cannot say", s ? " (" : "", s ? bk_qty_origin_words(s) : "", s ? ")" : "");
    return true;
}

static bool rule_row(const bk_report_input *in, size_t i, char left[BK_CELL], char right[2 * BK_CELL])
{
    const bk_json *rule = bk_json_at(bk_json_get(in->protect, "rules"), i);
    const char *met = text_of(rule, "met"), *certainty = text_of(rule, "threshold_certainty");
    const char *words = strcmp(met, "yes") == 0 ? "met" : strcmp(met, "no") == 0 ? "not met" : "not known";
    const char *standing = text_of(rule, "standing");
    bk_format(left, BK_CELL, "%s", text_of(rule, "text"));
    bk_format(right, 2 * BK_CELL, "%s%s%s%s", words, certainty[0] ? "; " : "", certainty,
              strcmp(standing, "seen") == 0 ? "" : strcmp(standing, "memory") == 0 ? " (from memory)" : " (common practice, no source)");
    return rule != NULL;
}

static bool option_row(const bk_report_input *in, size_t i, char left[BK_CELL], char right[2 * BK_CELL])
{
    const bk_json *option = i < FIRST_OPTIONS ? bk_json_at(bk_json_get(in->strategies, "options"), i) : NULL;
    const bk_json *conditions = bk_json_get(option, "conditions");
    size_t met = 0, n = bk_json_count(conditions);
    char steps[BK_NUMBER_TEXT], french[BK_NUMBER_TEXT];
    for (size_t k = 0; k < n; k++)
        met += strcmp(text_of(bk_json_at(conditions, k), "met"), "yes") == 0;
    const double count = bk_json_number(bk_json_get(option, "steps_count")), guide = bk_json_number(bk_json_get(option, "guide_french"));
    bk_format(left, BK_CELL, "%s", text_of(option, "name"));
    bk_format(right, 2 * BK_CELL, "for this anatomy: %s; %zu of %zu conditions met; steps %s, guide %s F", text_of(option, "for_this_anatomy"),
              met, n, isfinite(count) ? bk_number_fixed(steps, count, 0) : "not known", isfinite(guide) ? bk_number_fixed(french, guide, 0) : "?");
    return option != NULL;
}

bool bk_sheet_row(const bk_report_input *in, bk_sheet_part part, size_t i, char left[BK_CELL], char right[2 * BK_CELL])
{
    switch (part) {
    case BK_SHEET_READS:
        return read_row(in, i, left, right);
    case BK_SHEET_QUESTIONS:
        return question_row(in, i, left, right);
    case BK_SHEET_LIMBS:
        return limb_row(in, i, left, right);
    case BK_SHEET_RULES:
        return rule_row(in, i, left, right);
    case BK_SHEET_OPTIONS:
    case BK_SHEET_PARTS:
        break;
    }
    return option_row(in, i, left, right);
}

/* ---- on paper ---- */

static double head(cairo_t *cr, double x, double y, double w, const char *text)
{
    bk_ink_set(cr, BK_INK_TEXT);
    bk_text(cr, x, y, w, 8.5, true, text);
    return y + 11;
}

/* Rows of a part; split: where the second column begins. Returns the next free baseline. */
static double rows(cairo_t *cr, bk_box box, const bk_report_input *in, bk_sheet_part part, double split)
{
    char left[BK_CELL], right[2 * BK_CELL];
    double y = head(cr, box.x, box.y, box.w, bk_sheet_heads[part]);
    size_t n = 0;
    for (; bk_sheet_row(in, part, n, left, right) && y < box.y + box.h; n++) {
        bk_ink_set(cr, BK_INK_QUIET);
        const double after = bk_paragraph(cr, box.x, y, split - 6, ROW, 3, left);
        bk_ink_set(cr, BK_INK_TEXT);
        y = fmax(after, bk_paragraph(cr, box.x + split, y, box.w - split, ROW, 3, right)) + 0.6;
    }
    if (n == 0) {
        bk_ink_set(cr, BK_INK_QUIET);
        bk_text(cr, box.x, y, box.w, ROW, false, "none");
        y += 9;
    }
    return y + 7;
}

void bk_draw_sheet(cairo_t *cr, bk_box box, const bk_report_input *in)
{
    char line[BK_CELL];
    const double gap = 16, half = (box.w - gap) / 2, right_x = box.x + half + gap;
    bk_ink_set(cr, BK_INK_TEXT);
    bk_text(cr, box.x, box.y + 14, box.w, 15, true, "Case sheet for a second opinion");
    bk_text(cr, box.x, box.y + 29, box.w, 8.5, false, bk_case_line(line, in->case_doc));
    if (bk_is_demo(in->case_doc)) {
        bk_ink_set(cr, BK_INK_MARK);
        bk_text_right(cr, box.x + box.w, box.y + 14, 7.5, true, BK_DEMO_WORDS);
    }
    const double top = box.y + 50;
    double y = rows(cr, (bk_box){box.x, top, half, box.h}, in, BK_SHEET_READS, 110);
    y = rows(cr, (bk_box){box.x, y, half, box.y + box.h - y}, in, BK_SHEET_QUESTIONS, 14);
    bk_draw_strata(cr, (bk_box){right_x, top - 8, half, half + 34}, in->protect);
    const double z = rows(cr, (bk_box){right_x, top + half + 40, half, 80}, in, BK_SHEET_LIMBS, 66);
    y = fmax(y, z) + 4;
    y = rows(cr, (bk_box){box.x, y, box.w, box.y + box.h - y}, in, BK_SHEET_RULES, 270);
    y = rows(cr, (bk_box){box.x, y, box.w, box.y + box.h - y}, in, BK_SHEET_OPTIONS, 200);
    bk_ink_set(cr, BK_INK_QUIET);
    bk_paragraph(cr, box.x, fmin(y, box.y + box.h - 18), box.w, 6.8, 2, bk_sheet_note);
}
