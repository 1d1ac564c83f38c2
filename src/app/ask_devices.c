/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `ask devices`: the sizes of core/plan/devices put into words. Its cautions and sources:
 * ask_devices_notes.c. */
#include "app/ask_devices.h"

#include <math.h>
#include <stdio.h>

#define WHY_TEXT 320
const char *const bk_limb_words[BK_LIMBS] = {"proximal main", "distal main", "side branch"};

#define SCALE_HOLD                                                                                           \
    "the ways to the scale disagree: no size in mm until the scale is settled, best by a second object of "  \
    "known size "                                                                                            \
    "in the picture; percent stenosis stays valid"

static double evidence_value(const char *id)
{
    return bk_evidence_value(bk_evidence_builtin(), id);
}

static void why_predilatation(const bk_devices *devices, const bk_device *item, char why[WHY_TEXT])
{
    const char *limb = bk_limb_words[item->by];
    if (devices->calcium)
        snprintf(why, WHY_TEXT, "1:1 to the %s reference %.2f mm, non-compliant, because of the calcium",
                 limb, item->size.target_mm);
    else
        snprintf(why, WHY_TEXT, "%.2f mm below the %s reference; the usual range is %.2f to %.2f mm",
                 evidence_value(BK_EVIDENCE("predilatation_below")), limb, devices->predilatation_low_mm,
                 devices->predilatation_high_mm);
}

static void why_side_balloon(const bk_devices *devices, const bk_device *item, char why[WHY_TEXT])
{
    char when[100] = "";
    if (!devices->strategy.second_stent)
        snprintf(
            when, sizeof when,
            "; only when it needs more after the main stent: TIMI below 3 or stenosis of %.0f %% and more",
            evidence_value(BK_EVIDENCE("bailout_stenosis")));
    snprintf(why, WHY_TEXT, "1:1 to the %s reference %.2f mm%s%s", bk_limb_words[item->by],
             item->size.target_mm, when,
             devices->strategy.strategy == BK_JAILED_BALLOON
                 ? "; the jailed balloon itself is smaller and not sized in this version"
                 : "");
}

static const char *why_item(const bk_devices *devices, const bk_device *item, char why[WHY_TEXT])
{
    static const char *const after[BK_USES] = {
        [BK_USE_MAIN_STENT] = "; the proximal part is then fitted by POT",
        [BK_USE_POT_BALLOON] =
            "; distal shoulder at the carina, not beyond; not longer than the proximal landing",
        [BK_USE_SIDE_STENT] = "",
        [BK_USE_KISSING_MAIN] = "; kissing pair, non-compliant, least possible overlap, then POT again",
        [BK_USE_KISSING_SIDE] = "; kissing pair, non-compliant, least possible overlap, then POT again",
    };
    if (item->use == BK_USE_PREDILATATION)
        why_predilatation(devices, item, why);
    else if (item->use == BK_USE_SIDE_BALLOON)
        why_side_balloon(devices, item, why);
    else
        snprintf(why, WHY_TEXT, "1:1 to the %s reference %.2f mm%s", bk_limb_words[item->by],
                 item->size.target_mm, after[item->use]);
    return why;
}

static void put_range(bk_json *object, const char *key, double low, double high, bool level_known)
{
    bk_json *range = bk_json_object();
    bk_json_put_fixed(range, "low", low, 2);
    bk_json_put_fixed(range, "high", high, 2);
    bk_json_put(range, "level_pct", level_known ? bk_json_new_integer(BK_LEVEL_PCT) : bk_json_new_null());
    bk_json_put(object, key, range);
}

static void put_size(bk_json *item, const bk_size_choice *size)
{
    if (!size->known) {
        bk_json_put_null(item, "diameter_mm");
        bk_json_put_null(item, "target_mm");
        bk_json_put_null(item, "same_size_pct");
        bk_json_put_null(item, "stable");
        return;
    }
    bk_json *target = bk_json_object();
    bk_json_put_fixed(target, "value", size->target_mm, 3);
    bk_json_put_fixed(target, "low", size->low_mm, 3);
    bk_json_put_fixed(target, "high", size->high_mm, 3);
    bk_json_put_integer(target, "level_pct", BK_LEVEL_PCT);
    bk_json_put_fixed(item, "diameter_mm", size->nominal_mm, 2);
    bk_json_put(item, "target_mm", target);
    bk_json_put_fixed(item, "same_size_pct", size->same_size_pct, 0);
    bk_json_put(item, "stable", size->spread_known ? bk_json_new_bool(size->stable) : bk_json_new_null());
}

/* ---- the main stent has a length and a platform besides ---- */

static void put_length(bk_json *item, const bk_devices *devices)
{
    const bk_stent_length *length = &devices->main_length;
    bk_json_put_fixed(item, "length_mm", length->length_mm, 0);
    if (length->verdict == BK_LENGTH_MISSING || length->verdict == BK_LENGTH_WITHDRAWN)
        return;
    if (length->verdict == BK_LENGTH_HELD)
        bk_json_put_fixed(item, "length_at_least_mm", length->at_least_mm, 1);
    else if (length->spread_known)
        put_range(item, "length_range_mm", length->low_mm, length->high_mm, true);
    else
        bk_json_put_null(item, "length_range_mm");
    bk_json *parts = bk_json_object();
    bk_json_put_fixed(parts, "beyond_carina", length->distal_mm, 1);
    bk_json_put_fixed(parts, "across_ostium", length->window_mm, 1);
    bk_json_put_fixed(parts, "proximal_landing", length->proximal_mm, 1);
    bk_json_put(item, "length_parts_mm", parts);
}

static void put_platforms(bk_json *item, const bk_devices *devices)
{
    static const char *const verdicts[] = {"within", "marginal", "above"};
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < devices->platforms_n; i++) {
        const bk_platform *platform = &devices->platforms[i];
        bk_json *entry = bk_json_object();
        bk_json_put_text(entry, "class", platform->name);
        put_range(entry, "nominal_mm", platform->nominal->low, platform->nominal->high, false);
        put_range(entry, "label_maximum_mm", platform->maximum->low, platform->maximum->high, false);
        bk_json_put_text(entry, "proximal_reference", verdicts[platform->verdict]);
        bk_json_put_text(entry, "standing", bk_standing_name(platform->maximum->standing));
        bk_json_put_text(entry, "do", "check the label");
        bk_json_push(list, entry);
    }
    bk_json_put(item, "platforms", list);
}

static void put_hold(bk_json *item, const bk_devices *devices, const bk_device *device, bool scale_held)
{
    const bk_stent_length *length = &devices->main_length;
    char hold[WHY_TEXT];
    const bool main = device->use == BK_USE_MAIN_STENT;
    if (scale_held || (main && length->verdict == BK_LENGTH_WITHDRAWN)) {
        bk_json_put_text(item, "hold", SCALE_HOLD);
    } else if (main && length->verdict == BK_LENGTH_HELD) {
        snprintf(hold, sizeof hold,
                 "length: seen in one view only, so at least %.1f mm and nothing more can be said; needs a "
                 "second view "
                 "at least %.0f° away, or the lengths entered from another source",
                 length->at_least_mm, evidence_value(BK_EVIDENCE("view_separation")));
        bk_json_put_text(item, "hold", hold);
    } else {
        bk_json_put_null(item, "hold");
    }
}

static bk_json *item_json(const bk_facts *facts, const bk_devices *devices, const bk_device *device)
{
    char why[WHY_TEXT];
    const bool scale_held = !device->size.known && bk_has(facts->limb[device->by].reference_mm.q);
    bk_json *item = bk_json_object();
    bk_json_put_text(item, "use", bk_use_names[device->use]);
    put_size(item, &device->size);
    if (device->use == BK_USE_MAIN_STENT) {
        put_length(item, devices);
        put_platforms(item, devices);
    } else {
        bk_json_put_null(item, "length_mm");
    }
    bk_json_put_null(item, "pressure_atm");
    if (device->size.known)
        bk_json_put_text(item, "why", why_item(devices, device, why));
    else
        bk_json_put_text(item, "why",
                         scale_held ? "the scale is in dispute" : "the reference that sizes it is missing");
    bk_json_put(item, "shelf_match", bk_json_array());
    put_hold(item, devices, device, scale_held);
    return item;
}

static bk_json *kissing_json(const bk_devices *devices)
{
    if (!devices->kissing_known)
        return bk_json_new_null();
    const bk_kissing *k = &devices->kissing;
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "lumped_diameter_mm", k->lumped_diameter_mm, 2);
    bk_json_put_fixed(out, "perimeter_diameter_mm", k->perimeter_diameter_mm, 2);
    bk_json_put_fixed(out, "hull_diameter_mm", k->hull_diameter_mm, 2);
    bk_json_put_reals(out, "axes_mm", (const double[]){k->long_axis_mm, k->short_axis_mm}, 2, 2);
    bk_json_put_fixed(out, "ellipticity", k->ellipticity, 2);
    bk_json_put_fixed(out, "perimeter_over_fractal", devices->perimeter_over_fractal, 2);
    bk_json_put_text(
        out, "meaning",
        "where both nominal balloons lie side by side; an upper bound that informs and is no alarm");
    return out;
}

static bk_json *branching_json(const bk_devices *devices)
{
    if (!devices->laws_known)
        return bk_json_new_null();
    bk_json *out = bk_json_object(), *laws = bk_json_array();
    bk_json_put_fixed(out, "daughter_ratio", devices->daughter_ratio, 2);
    for (size_t i = 0; i < BK_MOTHER_LAWS; i++) {
        bk_json *law = bk_json_object();
        bk_json_put_text(law, "id", devices->laws[i].law_id);
        bk_json_put_fixed(law, "mother_mm", devices->laws[i].mother_mm, 3);
        bk_json_put_fixed(law, "proximal_minus_mother_mm", devices->laws[i].difference_mm, 3);
        bk_json_put_text(law, "agrees_with_data_at_this_ratio", devices->laws[i].applies ? "yes" : "no");
        bk_json_push(laws, law);
    }
    bk_json_put(out, "laws", laws);
    return out;
}

void bk_ask_devices(const bk_case_doc *doc, bk_answer *answer)
{
    const bk_facts facts = bk_case_facts(doc);
    const bk_devices devices = bk_devices_plan(&facts, doc->input.anatomy.calcium,
                                               doc->input.decision.strategy, bk_evidence_builtin());
    bk_json *items = bk_json_array();
    for (size_t i = 0; i < devices.n; i++)
        bk_json_push(items, item_json(&facts, &devices, &devices.items[i]));
    bk_json_put_text(answer->json, "strategy", bk_strategy_names[devices.strategy.strategy]);
    bk_json_put(answer->json, "items", items);
    bk_json_put(answer->json, "kissing", kissing_json(&devices));
    bk_json_put_null(answer->json, "guide");
    bk_json_put(answer->json, "branching", branching_json(&devices));
    bk_devices_note_inputs(doc, &facts, &devices, answer);
    bk_devices_note_missing(doc, &facts, &devices, answer);
    bk_devices_note_cautions(doc, &facts, &devices, answer);
    bk_devices_note_sources(&facts, &devices, answer);
}
