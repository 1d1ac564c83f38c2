/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `ask devices`: the sizes of core/plan/devices put into words. Its cautions and sources:
 * ask_devices_notes.c. */
#include "app/ask_devices.h"
#include "base/format.h"
#include "core/plan/options.h"

#include <math.h>

#define WHY_TEXT 320
static const char *const limb_words[BK_LIMBS] = {"proximal main", "distal main", "side branch"};

#define SCALE_HOLD                                                                                           \
    "the ways to the scale disagree: no size in mm until the scale is settled, best by a second object of "  \
    "known size "                                                                                            \
    "in the picture; percent stenosis stays valid"

static double evidence_value(const char *id)
{
    return bk_evidence_value(bk_evidence_builtin(), id);
}

/* "1:1 to the distal main reference 3.02 ± 0.07 mm (measured)" */
static void put_why(bk_json *item, const bk_devices *devices, const bk_device *device, const bk_facts *facts)
{
    const bk_qty reference = facts->limb[device->by].reference_mm.q;
    const double sd = bk_fact_sd(reference, facts->scale_sd_pct);
    char why[WHY_TEXT], spread[24] = "";
    if (!device->size.known) {
        bk_json_put_text(item, "why",
                         bk_has(reference) ? "the scale is in dispute"
                                           : "the reference that sizes it is missing");
        return;
    }
    if (sd > 0)
        bk_format(spread, sizeof spread, " \u00b1 %.2f", sd);
    bk_format(why, sizeof why, "%s %s reference %.2f%s mm (%s)",
              device->use == BK_USE_PREDILATATION && !devices->calcium ? "below the" : "1:1 to the",
              limb_words[device->by], reference.value, spread, bk_origin_name(reference.origin));
    bk_json_put_text(item, "why", why);
}

static void note_predilatation(const bk_devices *devices, char note[WHY_TEXT])
{
    if (devices->calcium)
        bk_format(note, WHY_TEXT, "non-compliant and 1:1 because of the calcium");
    else
        bk_format(note, WHY_TEXT, "%.2f mm below the reference; the usual range is %.2f to %.2f mm",
                  evidence_value(BK_EVIDENCE("predilatation_below")), devices->predilatation_low_mm,
                  devices->predilatation_high_mm);
}

static void note_side_balloon(const bk_devices *devices, char note[WHY_TEXT])
{
    if (!devices->strategy.second_stent)
        bk_format(
            note, WHY_TEXT,
            "only when it needs more after the main stent: TIMI below 3 or stenosis of %.0f %% and more%s",
            evidence_value(BK_EVIDENCE("bailout_stenosis")),
            devices->strategy.strategy == BK_JAILED_BALLOON
                ? "; the jailed balloon itself is smaller and not sized in this version"
                : "");
}

/* How the device is used, as far as it bears on its size. */
static void put_note(bk_json *item, const bk_devices *devices, const bk_device *device)
{
    static const char *const fixed[BK_USES] = {
        [BK_USE_MAIN_STENT] = "the proximal part is then fitted by POT",
        [BK_USE_POT_BALLOON] =
            "distal shoulder at the carina, not beyond; not longer than the proximal landing",
        [BK_USE_KISSING_MAIN] = "non-compliant, least possible overlap, then POT again",
        [BK_USE_KISSING_SIDE] = "non-compliant, least possible overlap, then POT again",
    };
    char note[WHY_TEXT] = "";
    if (!device->size.known)
        return;
    if (device->use == BK_USE_PREDILATATION)
        note_predilatation(devices, note);
    else if (device->use == BK_USE_SIDE_BALLOON)
        note_side_balloon(devices, note);
    else if (fixed[device->use])
        bk_format(note, sizeof note, "%s", fixed[device->use]);
    if (note[0])
        bk_json_put_text(item, "note", note);
}

static void put_range(bk_json *object, const char *key, double low, double high, bool level_known)
{
    bk_json *range = bk_json_object();
    bk_json_put_fixed(range, "low", low, 2);
    bk_json_put_fixed(range, "high", high, 2);
    bk_json_put(range, "level_pct", level_known ? bk_json_new_integer(BK_LEVEL_PCT) : bk_json_new_null());
    bk_json_put(object, key, range);
}

/* The other nominal sizes that the interval reaches, in words: "2.75 to 3.25"; null when there is no other.
 */
static void put_also(bk_json *item, const bk_size_choice *size)
{
    char text[40];
    if (!size->spread_known || size->low_nominal_mm == size->high_nominal_mm) {
        bk_json_put_null(item, "also_mm");
        return;
    }
    bk_format(text, sizeof text, "%.2f to %.2f", size->low_nominal_mm, size->high_nominal_mm);
    bk_json_put_text(item, "also_mm", text);
}

static void put_size(bk_json *item, const bk_size_choice *size)
{
    if (!size->known) {
        bk_json_put_null(item, "diameter_mm");
        bk_json_put_null(item, "target_mm");
        bk_json_put_null(item, "same_size_pct");
        bk_json_put_null(item, "stable");
        bk_json_put_null(item, "also_mm");
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
    put_also(item, size);
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
    bk_json_put_fixed(parts, "beyond_branch_point", length->distal_mm, 1);
    bk_json_put_fixed(parts, "before_branch_point", length->proximal_mm, 1);
    bk_json_put_fixed(parts, "of_which_across_ostium", length->window_mm, 1);
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
        bk_format(hold, sizeof hold,
                  "the length was seen in one view only: at least %.1f mm, nothing more can be said; needs a "
                  "second view at least %.0f\u00b0 away, or the lengths from another source",
                  length->at_least_mm, evidence_value(BK_EVIDENCE("view_separation")));
        bk_json_put_text(item, "hold", hold);
    } else if (main && length->verdict == BK_LENGTH_MISSING) {
        bk_format(hold, sizeof hold,
                  "the length cannot be said, what it needs is missing; lengths from one view are lower "
                  "bounds, a second "
                  "view at least %.0f\u00b0 away releases it",
                  evidence_value(BK_EVIDENCE("view_separation")));
        bk_json_put_text(item, "hold", hold);
    } else {
        bk_json_put_null(item, "hold");
    }
}

static void put_ratio(bk_json *item, const bk_facts *facts, const bk_device *device)
{
    if (device->use == BK_USE_PREDILATATION && device->size.known)
        bk_json_put_fixed(item, "ratio_to_reference",
                          device->size.nominal_mm / facts->limb[device->by].reference_mm.q.value, 2);
}

static bk_json *item_json(const bk_devices_view *view, const bk_device *device)
{
    const bk_facts *facts = view->asked->facts;
    const bk_devices *devices = view->devices;
    const bool scale_held = !device->size.known && bk_has(facts->limb[device->by].reference_mm.q);
    bk_json *item = bk_json_object();
    bk_json_put_text(item, "use", bk_use_names[device->use]);
    put_size(item, &device->size);
    if (device->use == BK_USE_MAIN_STENT) {
        put_length(item, devices);
        put_platforms(item, devices);
    }
    bk_devices_put_imaging(item, view, device);
    put_ratio(item, facts, device);
    put_why(item, devices, device, facts);
    put_note(item, devices, device);
    bk_devices_put_shelf(item, view, device);
    put_hold(item, devices, device, scale_held);
    return item;
}

static bk_json *kissing_json(const bk_devices_view *view)
{
    const bk_devices *devices = view->devices;
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
    bk_devices_put_kissing_platform(out, view);
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

void bk_answer_devices(const bk_asked *asked, bk_answer *answer)
{
    const bk_case *c = asked->c;
    const bk_facts *facts = asked->facts;
    const bk_devices devices =
        bk_devices_plan(facts, c->anatomy.calcium, (int)bk_options_in_view(c, facts, bk_evidence_builtin()), bk_evidence_builtin());
    const bk_chosen chosen = bk_choose(&devices, facts, c->anatomy.site, asked->stock, bk_evidence_builtin());
    const bk_guide guide =
        bk_guide_plan(devices.strategy.strategy, &chosen, asked->stock, bk_evidence_builtin());
    const bk_devices_view view = {asked, &devices, &chosen, &guide};
    bk_json *items = bk_json_array();
    for (size_t i = 0; i < devices.n; i++)
        bk_json_push(items, item_json(&view, &devices.items[i]));
    bk_devices_push_kit(items, &view);
    bk_json_put_text(answer->json, "strategy", bk_strategy_names[devices.strategy.strategy]);
    bk_json_put(answer->json, "items", items);
    bk_json_put(answer->json, "kissing", kissing_json(&view));
    bk_json_put(answer->json, "guide", bk_devices_guide_json(&view));
    bk_json_put(answer->json, "branching", branching_json(&devices));
    bk_devices_put_beside(&view, answer);
    bk_devices_note_inputs(c, facts, &devices, answer);
    bk_devices_note_missing(c, facts, &devices, answer);
    bk_devices_note_cautions(c, facts, &devices, answer);
    bk_devices_note_shelf(&view, answer);
    bk_devices_note_guide(&view, answer);
    bk_devices_note_sources(facts, &devices, answer);
}
