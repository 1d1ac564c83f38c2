/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "report/paper.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

#include "base/format.h"
#include "base/number.h"
#include "core/plan/devices.h"

const char *const bk_limb_heads[BK_LIMB_COLUMNS] = {"Limb",     "Reference", "By branching law", "MLD",
                                                    "Stenosis", "Lesion",    "Ostium"};
const char *const bk_device_heads[BK_DEVICE_COLUMNS] = {"Use", "Diameter", "Length", "Why"};

static char *copy(char out[BK_CELL], const char *text)
{
    bk_format(out, BK_CELL, "%s", text);
    return out;
}

char *bk_limb_cell(char out[BK_CELL], const bk_json *m, int limb, int column)
{
    static const char *const keys[BK_LIMB_COLUMNS] = {NULL, "reference_mm", "reference_by_law_mm", "mld_mm",
                                                      "stenosis_pct", "lesion_length_mm", "ostial_mm"};
    char words[BK_WORDS];
    if (column == 0)
        return copy(out, bk_limb_words[limb]);
    const bk_json *q = bk_limb_get(m, limb, keys[column]);
    if (column == 5 && bk_json_is_null(q))
        return copy(out, "none found");
    const bool percent = column == 4;
    bk_qty_words(words, q, percent ? 0 : column == 5 ? 1 : 2, percent ? "%" : "mm");
    const char *origin = bk_qty_origin_words(q);
    const bool said = origin[0] && strcmp(origin, "measured") != 0 && strcmp(words, "cannot say") != 0;
    bk_format(out, BK_CELL, said ? "%s, %s" : "%s", words, origin);
    return out;
}

char *bk_device_cell(char out[BK_CELL], const bk_json *devices, size_t i, int column)
{
    char number[BK_NUMBER_TEXT];
    const bk_json *item = bk_json_at(bk_json_get(devices, "items"), i);
    const char *use = bk_json_text(bk_json_get(item, "use")), *also = bk_json_text(bk_json_get(item, "also_mm"));
    const double d = bk_json_number(bk_json_get(item, "diameter_mm")), l = bk_json_number(bk_json_get(item, "length_mm"));
    switch (column) {
    case 0:
        for (int k = 0; k < BK_USES; k++)
            if (strcmp(use, bk_use_names[k]) == 0)
                return copy(out, bk_use_words[k]);
        copy(out, use); // the kit: guide, wire, microcatheter
        out[0] = (char)toupper((unsigned char)out[0]);
        return out;
    case 1:
        if (bk_json_is_number(bk_json_get(item, "french"))) {
            bk_format(out, BK_CELL, "%s F", bk_number_fixed(number, bk_json_number(bk_json_get(item, "french")), 0));
            return out;
        }
        if (!bk_json_get(item, "target_mm")) // kit without a size
            return copy(out, "\u2013");
        if (!isfinite(d))
            return copy(out, "cannot say");
        bk_format(out, BK_CELL, also[0] ? "%s mm (%s)" : "%s mm", bk_number_fixed(number, d, 2), also);
        return out;
    case 2:
        if (isfinite(l))
            bk_format(out, BK_CELL, "%s mm", bk_number_fixed(number, l, 0));
        else
            copy(out, bk_json_is_text(bk_json_get(item, "hold")) ? "held back" : "\u2013");
        return out;
    default:
        return copy(out, bk_json_text(bk_json_get(item, "why")));
    }
}

bool bk_is_demo(const bk_json *case_doc)
{
    return strncmp(bk_json_text(bk_json_get(case_doc, "case_id")), "demo", 4) == 0;
}

static const char *site_words(const char *site)
{
    static const char *const sites[][2] = {{"left_main", "left main"},
                                           {"lad_diagonal", "left anterior descending / diagonal"},
                                           {"lcx_marginal", "left circumflex / obtuse marginal"},
                                           {"rca_crux", "right coronary artery, crux"}};
    for (size_t i = 0; i < 4; i++)
        if (strcmp(site, sites[i][0]) == 0)
            return sites[i][1];
    return site[0] ? site : "site not said";
}

char *bk_case_line(char out[BK_CELL], const bk_json *case_doc)
{
    char age[BK_NUMBER_TEXT];
    const bk_json *q = bk_json_path(case_doc, "patient.age_y");
    const double years = bk_json_is_number(q) ? bk_json_number(q) : bk_json_number(bk_json_get(q, "value"));
    const char *sex = bk_json_text(bk_json_path(case_doc, "patient.sex"));
    const bool known = isfinite(years) && years >= 0 && years < 200;
    bk_format(out, BK_CELL, "%s%s%s \u00b7 %s \u00b7 case %.40s", known ? bk_number_fixed(age, years, 0) : "",
              known ? "-year-old " : "", strcmp(sex, "male") == 0 ? "man" : strcmp(sex, "female") == 0 ? "woman" : "patient",
              site_words(bk_json_text(bk_json_path(case_doc, "anatomy.site"))),
              bk_json_text(bk_json_get(case_doc, "case_id")));
    return out;
}

char *bk_scale_line(char out[BK_CELL], const bk_json *m)
{
    char mm[BK_NUMBER_TEXT], sd[BK_NUMBER_TEXT];
    const double v = bk_json_number(bk_json_path(m, "calibration.mm_per_px"));
    const double s = bk_json_number(bk_json_path(m, "calibration.sd_pct"));
    if (!isfinite(v))
        return copy(out, "No scale: sizes in mm are withheld; percent stenosis and Medina stand.");
    const char *agreement = bk_json_text(bk_json_path(m, "calibration.agreement"));
    bk_format(out, BK_CELL, "Scale %s mm/px by %s, \u00b1%s %% (%s) \u00b7 one view \u00b7 fit by %s", bk_number_fixed(mm, v, 4),
              bk_json_text(bk_json_path(m, "calibration.origin")), isfinite(s) ? bk_number_fixed(sd, s, 1) : "?",
              strcmp(agreement, "single") == 0 ? "no second route" : strcmp(agreement, "agree") == 0 ? "second route agrees" : "ROUTES DISAGREE",
              bk_json_text(bk_json_path(m, "fit.mode")));
    return out;
}

char *bk_medina_line(char out[BK_CELL], const bk_json *m)
{
    const bk_json *ways = bk_json_get(m, "medina_alternatives");
    char number[BK_NUMBER_TEXT];
    size_t n = 0;
    bk_format(out, BK_CELL, "Medina %s", bk_json_text(bk_json_get(m, "medina")));
    for (size_t i = 0; i < bk_json_count(ways) && i < 4; i++) {
        n = strlen(out);
        const bk_json *way = bk_json_at(ways, i);
        const double p = bk_json_number(bk_json_get(way, "probability_pct"));
        bk_format(out + n, BK_CELL - n, "%s%s %s %%", i == 0 ? " \u00b7 by the SDs: " : ", ", bk_json_text(bk_json_get(way, "medina")),
                  isfinite(p) ? bk_number_fixed(number, p, 0) : "?");
    }
    return out;
}

char *bk_core_line(char out[BK_CELL], const bk_json *m)
{
    char core[BK_WORDS], b[BK_WORDS], a[BK_WORDS];
    bk_format(out, BK_CELL, "Core %s \u00b7 angle distal\u2013side %s, proximal\u2013side %s (as projected)",
              bk_qty_words(core, bk_json_path(m, "core.diameter_mm"), 2, "mm"),
              bk_qty_words(b, bk_json_path(m, "angles.distal_side_deg"), 1, "\u00b0"),
              bk_qty_words(a, bk_json_path(m, "angles.proximal_side_deg"), 1, "\u00b0"));
    return out;
}

char *bk_origin_line(char out[BK_CELL], const bk_json *m)
{
    char frame[BK_NUMBER_TEXT];
    const double k = bk_json_number(bk_json_path(m, "source.frame"));
    bk_format(out, BK_CELL, "file %.16s\u2026 \u00b7 frame %s \u00b7 stage %s", bk_json_text(bk_json_path(m, "source.file_sha256")),
              isfinite(k) ? bk_number_fixed(frame, k, 0) : "?", bk_json_text(bk_json_get(m, "stage")));
    return out;
}

char *bk_source_line(char *out, size_t room, const bk_json *devices, size_t i)
{
    const bk_json *s = bk_json_at(bk_json_get(devices, "sources"), i);
    const char *doi = bk_json_text(bk_json_get(s, "doi"));
    bk_format(out, room, "[%s] %s \u2013 %s%s%s", bk_json_text(bk_json_get(s, "standing")), bk_json_text(bk_json_get(s, "text")),
              bk_json_text(bk_json_get(s, "source")), doi[0] ? ", doi " : "", doi);
    return out;
}

char *bk_sheet_why(char out[BK_CELL], const bk_json *item)
{
    const char *why = bk_json_text(bk_json_get(item, "why"));
    bk_format(out, BK_CELL, "%s%s[%s]", why, why[0] ? " " : "", bk_json_text(bk_json_get(item, "standing")));
    return out;
}

char *bk_sheet_verdict(char out[BK_CELL], const bk_json *definition)
{
    const char *word = bk_json_text(bk_json_get(definition, "verdict"));
    bk_format(out, BK_CELL, "%s", strcmp(word, "mi") == 0 ? "infarction" : word);
    for (char *c = out; *c; c++)
        *c = *c == '_' ? ' ' : *c;
    return out;
}

static const char *value_words(char out[BK_WORDS], const bk_json *value)
{
    if (bk_json_text(value)[0])
        return bk_json_text(value);
    if (isnan(bk_json_number(value)))
        return "not known";
    bk_format(out, BK_WORDS, "%g", bk_json_number(value));
    return out;
}

char *bk_result_found(char out[BK_CELL], const bk_json *check)
{
    char value[BK_WORDS], line[BK_WORDS];
    const char *met = bk_json_text(bk_json_get(check, "met")), *unit = bk_json_text(bk_json_get(check, "unit"));
    if (!bk_json_text(bk_json_get(check, "value"))[0] && isnan(bk_json_number(bk_json_get(check, "value")))) {
        bk_format(out, BK_CELL, "cannot say (line %s)", value_words(line, bk_json_get(check, "threshold")));
        return out;
    }
    bk_format(out, BK_CELL, "%s: %s%s%s (line %s)", met[0] == 'y' ? "met" : met[0] == 'n' ? "not met" : "cannot say",
              value_words(value, bk_json_get(check, "value")), unit[0] ? " " : "", unit, value_words(line, bk_json_get(check, "threshold")));
    return out;
}

char *bk_success_words(char out[BK_CELL], const bk_json *success)
{
    const char *verdict = bk_json_text(bk_json_get(success, "verdict"));
    bk_format(out, BK_CELL, "%s (%s)", verdict[0] == 'm' ? "met" : verdict[0] == 'n' ? "not met" : "cannot say",
              bk_json_text(bk_json_get(success, "standing")));
    return out;
}
