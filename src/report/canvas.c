/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "report/canvas.h"

#include <math.h>
#include <string.h>

#include "base/format.h"
#include "base/number.h"

const char *const bk_limb_keys[3] = {"proximal", "distal", "side"};
const char *const bk_limb_words[3] = {"Proximal main", "Distal main", "Side branch"};

void bk_ink_set(cairo_t *cr, bk_ink ink)
{
    static const double inks[][4] = {
        [BK_INK_TEXT] = {0.10, 0.11, 0.13, 1},  [BK_INK_QUIET] = {0.42, 0.44, 0.47, 1},
        [BK_INK_LINE] = {0.72, 0.74, 0.77, 1},  [BK_INK_LUMEN] = {0.24, 0.34, 0.43, 1},
        [BK_INK_BAND] = {0.24, 0.34, 0.43, 0.22}, [BK_INK_MARK] = {0.72, 0.33, 0.10, 1},
    };
    cairo_set_source_rgba(cr, inks[ink][0], inks[ink][1], inks[ink][2], inks[ink][3]);
}

static void set_font(cairo_t *cr, double size, bool bold)
{
    cairo_select_font_face(cr, "DejaVu Sans", CAIRO_FONT_SLANT_NORMAL, bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
    cairo_set_font_size(cr, size);
}

static double width_of(cairo_t *cr, const char *text)
{
    cairo_text_extents_t extents;
    cairo_text_extents(cr, text, &extents);
    return extents.x_advance;
}

/* Copy without control characters, cut between UTF-8 characters. */
static void clean_copy(char *out, size_t room, const char *text)
{
    size_t n = 0;
    for (; text[n] && n + 1 < room; n++)
        out[n] = (unsigned char)text[n] < 0x20 || text[n] == 0x7f ? ' ' : text[n];
    while (text[n] && n > 0 && ((unsigned char)text[n] & 0xc0) == 0x80)
        n--;
    out[n] = '\0';
}

static void drop_last_character(char *text)
{
    size_t n = strlen(text);
    while (n > 0 && ((unsigned char)text[--n] & 0xc0) == 0x80)
        ;
    text[n] = '\0';
}

double bk_text(cairo_t *cr, double x, double y, double w, double size, bool bold, const char *text)
{
    char line[512];
    set_font(cr, size, bold);
    clean_copy(line, sizeof line - 4, text);
    if (w > 0 && width_of(cr, line) > w) {
        const double room = w - width_of(cr, "\u2026");
        while (line[0] && width_of(cr, line) > room)
            drop_last_character(line);
        memcpy(line + strlen(line), "\u2026", 4);
    }
    cairo_move_to(cr, x, y);
    cairo_show_text(cr, line);
    return width_of(cr, line);
}

void bk_text_right(cairo_t *cr, double x, double y, double size, bool bold, const char *text)
{
    set_font(cr, size, bold);
    bk_text(cr, x - width_of(cr, text), y, 0, size, bold, text);
}

/* Length of the part of text that fits w, ending before a blank when there is one. */
static size_t fitting(cairo_t *cr, const char *text, double w)
{
    char line[512];
    size_t fit = 0, n = 0;
    while (text[n] && n + 1 < sizeof line) {
        size_t end = n + 1;
        while (text[end] && text[end] != ' ')
            end++;
        if (end + 1 >= sizeof line)
            break;
        memcpy(line, text, end);
        line[end] = '\0';
        if (width_of(cr, line) > w)
            break;
        fit = end;
        n = end;
    }
    return fit ? fit : strcspn(text + 1, " ") + 1; /* one word that is too wide is cut by bk_text */
}

double bk_paragraph(cairo_t *cr, double x, double y, double w, double size, int lines_max, const char *text)
{
    char clean[1024], line[512];
    clean_copy(clean, sizeof clean, text);
    const char *at = clean;
    for (int i = 0; i < lines_max; i++) {
        while (*at == ' ')
            at++;
        if (!*at)
            break;
        set_font(cr, size, false);
        const bool last = i == lines_max - 1;
        const size_t n = last ? strlen(at) : fitting(cr, at, w);
        clean_copy(line, n + 1 < sizeof line ? n + 1 : sizeof line, at);
        bk_text(cr, x, y, w, size, false, line);
        at += n;
        y += 1.3 * size;
    }
    return y;
}

char *bk_qty_words(char out[BK_WORDS], const bk_json *qty, int decimals, const char *unit)
{
    char value[BK_NUMBER_TEXT], sd[BK_NUMBER_TEXT];
    const double v = bk_json_is_number(qty) ? bk_json_number(qty) : bk_json_number(bk_json_get(qty, "value"));
    const double s = bk_json_number(bk_json_get(qty, "sd"));
    if (!isfinite(v) || fabs(v) > 1e6) {
        bk_format(out, BK_WORDS, "cannot say");
        return out;
    }
    bk_number_fixed(value, v, decimals);
    if (isfinite(s) && s < 1e6)
        bk_format(out, BK_WORDS, "%s \u00b1 %s %s", value, bk_number_fixed(sd, s, decimals), unit);
    else
        bk_format(out, BK_WORDS, "%s %s", value, unit);
    return out;
}

const char *bk_qty_origin_words(const bk_json *qty)
{
    return bk_json_text(bk_json_get(qty, "origin"));
}

const bk_json *bk_limb_get(const bk_json *measurement, int limb, const char *key)
{
    return bk_json_get(bk_json_get(bk_json_get(measurement, "segments"), bk_limb_keys[limb]), key);
}
