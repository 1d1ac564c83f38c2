/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/fit.h"

#include <math.h>
#include <stddef.h>

#include "core/plan/packing.h"

#define CATHETERS_MAX 3
_Static_assert(BK_SECTION_CIRCLES == BK_PACKING_MAX && BK_FIT_DEVICES + CATHETERS_MAX <= BK_PACKING_MAX,
               "every section can be packed");
#define BESIDE_MAX 2 /* wires of their own that the rules for two catheters still cover */

const char *const bk_kind_names[BK_KINDS] = {"wire", "balloon", "stent", "microcatheter", "dual_lumen"};

const char *bk_fit_name(bk_fit_verdict verdict)
{
    static const char *const names[] = {"fits", "tight", "no", NULL};
    return names[verdict];
}

bk_profile bk_fit_profile(const bk_evidence_set *evidence, bk_kind kind)
{
    static const char *const ids[BK_KINDS][BK_LEVELS] = {
        {BK_EVIDENCE("wire_diameter"), BK_EVIDENCE("wire_diameter"), BK_EVIDENCE("wire_diameter")},
        {BK_EVIDENCE("profile_balloon_front"), BK_EVIDENCE("profile_rx_shaft"),
         BK_EVIDENCE("profile_hypotube")},
        {BK_EVIDENCE("profile_stent_front"), BK_EVIDENCE("profile_rx_shaft"),
         BK_EVIDENCE("profile_hypotube")},
        {BK_EVIDENCE("profile_microcatheter_front"), BK_EVIDENCE("profile_microcatheter_front"),
         BK_EVIDENCE("profile_microcatheter_shaft")},
        {BK_EVIDENCE("profile_dual_lumen"), BK_EVIDENCE("profile_dual_lumen"),
         BK_EVIDENCE("profile_dual_lumen")},
    };
    bk_profile out = {.kind = kind, .wire_beside = kind != BK_KIND_WIRE && kind != BK_KIND_MICROCATHETER};
    for (int level = 0; level < BK_LEVELS; level++)
        out.mm[level] = bk_evidence_value(evidence, ids[kind][level]);
    return out;
}

double bk_fit_guide_inner(const bk_evidence_set *evidence, int french)
{
    static const char *const ids[] = {BK_EVIDENCE("guide_inner_5"), BK_EVIDENCE("guide_inner_6"),
                                      BK_EVIDENCE("guide_inner_7"), BK_EVIDENCE("guide_inner_8")};
    return french < 5 || french > 8 ? (double)NAN : bk_evidence_value(evidence, ids[french - 5]);
}

typedef struct contents {
    size_t wires, catheters, balloons, stents;
} contents;

static contents count(const bk_profile *profiles, size_t n)
{
    contents out = {0};
    for (size_t i = 0; i < n; i++) {
        out.wires += profiles[i].kind == BK_KIND_WIRE;
        out.catheters += profiles[i].kind != BK_KIND_WIRE;
        out.balloons += profiles[i].kind == BK_KIND_BALLOON;
        out.stents += profiles[i].kind == BK_KIND_STENT;
    }
    return out;
}

/* A published rule about what goes through which guide; row NULL: none was read. */
typedef struct rule {
    int french;
    const char *row;
    bool overrules; /* rigid circles that say "no" */
} rule;

static rule rule_of(const bk_evidence_set *evidence, const contents *c)
{
    const bool pair = c->catheters == 2 && c->wires <= BESIDE_MAX;
    rule out = {0, NULL, false};
    if (pair && c->balloons == 2)
        out = (rule){0, BK_EVIDENCE("guide_six_french"), true};
    else if (pair && c->balloons == 1 && c->stents == 1)
        out = (rule){0, BK_EVIDENCE("guide_tap_six_french"), true};
    else if (c->catheters == 2 && c->stents == 2)
        out = (rule){0, BK_EVIDENCE("guide_seven_french"), false};
    else if (c->catheters >= 3)
        out = (rule){0, BK_EVIDENCE("guide_eight_french"), false};
    if (out.row)
        out.french = (int)bk_evidence_value(evidence, out.row);
    return out;
}

static bk_section section_of(const bk_profile *profiles, const bk_level *level, size_t n, double wire_mm)
{
    bk_section out = {0};
    for (size_t i = 0; i < n; i++) {
        out.device[out.n] = i;
        out.mm[out.n++] = profiles[i].mm[level[i]];
        if (profiles[i].wire_beside && level[i] == BK_PROXIMAL_SHAFT) {
            out.device[out.n] = i;
            out.mm[out.n++] = wire_mm;
        }
    }
    return out;
}

/* All sections with at most one front; `number` counts through the levels of the catheters. */
static void worst_section(const bk_profile *profiles, size_t n, double wire_mm, bk_fit *out)
{
    int sections = 1;
    for (size_t i = 0; i < n; i++)
        sections *= profiles[i].kind == BK_KIND_WIRE ? 1 : BK_LEVELS;
    for (int number = 0; number < sections; number++) {
        bk_level level[BK_FIT_DEVICES] = {BK_FRONT};
        int fronts = 0, rest = number;
        for (size_t i = 0; i < n; i++) {
            if (profiles[i].kind == BK_KIND_WIRE)
                continue;
            level[i] = (bk_level)(rest % BK_LEVELS);
            rest /= BK_LEVELS;
            fronts += level[i] == BK_FRONT;
        }
        const bk_section section = section_of(profiles, level, n, wire_mm);
        const double needed = fronts > 1 || section.n == 0 ? 0 : bk_packing_diameter(section.mm, section.n);
        if (needed <= out->needed_mm)
            continue;
        out->section = section;
        out->needed_mm = needed;
        for (size_t i = 0; i < n; i++)
            out->level[i] = level[i];
    }
}

static bool can_say(const bk_profile *profiles, size_t n, double inner_mm)
{
    if (n > BK_FIT_DEVICES || !(inner_mm > 0) || count(profiles, n).catheters > CATHETERS_MAX)
        return false;
    for (size_t i = 0; i < n; i++)
        for (int level = 0; level < BK_LEVELS; level++)
            if (!(profiles[i].mm[level] > 0))
                return false;
    return true;
}

bk_fit bk_fit_profiles(const bk_evidence_set *evidence, const bk_profile *profiles, size_t n, double inner_mm,
                       int french)
{
    bk_fit out = {.needed_mm = (double)NAN,
                  .inner_mm = inner_mm,
                  .by_packing = BK_FIT_CANNOT_SAY,
                  .verdict = BK_FIT_CANNOT_SAY};
    if (!can_say(profiles, n, inner_mm))
        return out;
    const contents c = count(profiles, n);
    out.needed_mm = 0;
    worst_section(profiles, n, bk_evidence_value(evidence, BK_EVIDENCE("wire_diameter")), &out);
    if (out.section.n > 0)
        bk_packing_place(out.section.mm, out.section.n, out.section.place_mm);
    const double left = inner_mm - out.needed_mm;
    out.by_packing = left >= bk_evidence_value(evidence, BK_EVIDENCE("fit_margin")) ? BK_FITS
                     : left >= 0                                                    ? BK_TIGHT
                                                                                    : BK_FITS_NOT;
    out.verdict = out.by_packing;
    if (french == 0)
        return out;
    const rule published = rule_of(evidence, &c);
    out.rule_french = published.french;
    out.rule_row = published.row;
    if (out.by_packing == BK_FITS_NOT && published.overrules && french >= published.french) {
        out.verdict = BK_TIGHT;
        out.by_rule = true;
    }
    return out;
}

bk_fit bk_fit_kinds(const bk_evidence_set *evidence, const bk_kind *kinds, size_t n, int french)
{
    bk_profile profiles[BK_FIT_DEVICES];
    for (size_t i = 0; i < n && i < BK_FIT_DEVICES; i++)
        profiles[i] = bk_fit_profile(evidence, kinds[i]);
    return bk_fit_profiles(evidence, profiles, n, bk_fit_guide_inner(evidence, french), french);
}
