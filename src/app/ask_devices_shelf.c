/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `ask devices`: what of the stock list answers a size. */
#include <math.h>
#include <string.h>

#include "app/ask_devices.h"
#include "base/format.h"

#define TEXT 320

static const bk_evidence *row(const char *id)
{
    return bk_evidence_find(bk_evidence_builtin(), id);
}

void bk_devices_put_span(bk_json *object, const char *key, double low, double high)
{
    bk_json *span = bk_json_object();
    bk_json_put_fixed(span, "low", low, 2);
    bk_json_put_fixed(span, "high", high, 2);
    bk_json_put(object, key, span);
}

static void put_pressure(bk_json *entry, const bk_stock_item *item, double target_mm)
{
    const bk_pressure p = bk_stock_pressure(item, target_mm);
    char why[TEXT];
    bk_json_put_fixed(entry, "pressure_atm", p.atm, 1);
    switch (p.verdict) {
    case BK_PRESSURE_GIVEN:
        bk_format(why, sizeof why, "for %.2f mm by its own table; rated burst %g atm", target_mm,
                  item->rated_atm);
        break;
    case BK_PRESSURE_BELOW_TABLE:
        bk_format(why, sizeof why,
                  "cannot say: its table begins at %g atm with %.2f mm, above the %.2f mm wanted",
                  item->table_atm.v[0], item->table_mm.v[0], target_mm);
        break;
    case BK_PRESSURE_ABOVE_RATED:
        bk_format(why, sizeof why,
                  "cannot be reached: %.2f mm at its rated burst of %g atm, %.2f mm are wanted",
                  p.at_rated_mm, item->rated_atm, target_mm);
        break;
    case BK_PRESSURE_NO_TABLE:
    default:
        bk_format(why, sizeof why, "cannot say: the list holds no compliance table of it");
    }
    bk_json_put_text(entry, "pressure_why", why);
    if (!isnan(item->rated_atm))
        bk_json_put_fixed(entry, "rated_atm", item->rated_atm, 1);
}

static void put_reach(bk_json *entry, const bk_stock_match *match, double needed_mm)
{
    static const char *const verdicts[] = {"within", "marginal", "above"};
    if (!match->reach_known)
        return;
    bk_json *reach = bk_json_object();
    bk_json_put_text(reach, "verdict", verdicts[match->reach]);
    bk_json_put_fixed(reach, "needed_mm", needed_mm, 2);
    bk_devices_put_span(reach, "maximum_mm", match->maximum_low_mm, match->maximum_high_mm);
    bk_json_put_text(reach, "by",
                     match->by_class ? "its class, from memory: check the label"
                                     : "its label in the stock list");
    bk_json_put(entry, "reach", reach);
}

static bk_json *match_json(const bk_choice *choice, size_t i, double target_mm)
{
    const bk_stock_match *match = &choice->match[i];
    bk_json *entry = bk_json_object();
    bk_json_put_text(entry, "id", match->item->id);
    bk_json_put_text(entry, "name", match->item->name);
    bk_json_put_text(entry, "class", bk_stock_class_names[match->item->cls]);
    bk_json_put_fixed(entry, "nominal_mm", match->nominal_mm, 2);
    bk_json_put_fixed(entry, "length_mm", match->length_mm, 0);
    bk_json_put_bool(entry, "wanted_size", match->exact);
    put_pressure(entry, match->item, target_mm);
    put_reach(entry, match, choice->wish.reach_mm);
    if (!isnan(match->item->recoil_pct))
        bk_json_put_fixed(entry, "recoil_pct", match->item->recoil_pct, 1);
    bk_json_put_text(entry, "standing", match->item->standing);
    return entry;
}

/* Stents only: that is what was measured. */
static void put_in_vivo(bk_json *item)
{
    bk_json *out = bk_json_object();
    const char *const keys[] = {"balloon_below_chart_mm", "recoil_mm", "final_lumen_below_chart_pct"};
    const bk_evidence *const rows[] = {row(BK_EVIDENCE("inflated_deficit")),
                                       row(BK_EVIDENCE("inflated_recoil")),
                                       row(BK_EVIDENCE("final_below_chart"))};
    for (int i = 0; i < 3; i++) {
        bk_json *q = bk_json_object();
        bk_json_put_fixed(q, "value", rows[i]->value, 2);
        bk_json_put_fixed(q, "sd", rows[i]->sd, 2);
        bk_json_put(out, keys[i], q);
    }
    bk_json_put_text(out, "population", rows[0]->population);
    bk_json_put_text(
        out, "meaning",
        "a chart is made in air or water: in a lesion the same pressure gave less; not taken off here");
    bk_json_put(item, "in_vivo_shortfall", out);
}

/* What the branching laws would size it by, beside the reference that does. */
static void put_other_sources(bk_json *item, const bk_devices_view *view, const bk_device *device)
{
    const bk_devices *devices = view->devices;
    bk_json *list = bk_json_array();
    const double step = bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("size_step"));
    for (size_t i = 0; devices->laws_known && i < BK_MOTHER_LAWS; i++) {
        if (!devices->laws[i].applies)
            continue;
        const double nominal = bk_nominal_size(devices->laws[i].mother_mm, step);
        bk_json *one = bk_json_object();
        bk_json_put_text(one, "id", devices->laws[i].law_id);
        bk_json_put_fixed(one, "target_mm", devices->laws[i].mother_mm, 2);
        bk_json_put_fixed(one, "diameter_mm", nominal, 2);
        bk_json_put_text(one, "agrees", fabs(nominal - device->size.nominal_mm) < step / 2 ? "yes" : "no");
        bk_json_push(list, one);
    }
    bk_json_put(item, "other_sources", list);
    bk_json_put_text(item, "used_because",
                     "the proximal reference is of this vessel; a law stands beside it, never in its place");
}

static void put_pot(bk_json *item, const bk_devices_view *view, const bk_choice *choice)
{
    const double room = view->chosen->pot_room_mm,
                 length = choice->n ? choice->match[0].length_mm : (double)NAN;
    char text[TEXT];
    bk_json_put_fixed(item, "length_mm", length, 0);
    bk_json_put_fixed(item, "length_at_most_mm", room, 1);
    bk_json_put_text(item, "shoulder",
                     "distal shoulder (marker) at the carina cut plane; 1 mm before it leaves more "
                     "malapposition, beyond it harms");
    if (length < room - 1)
        bk_format(text, sizeof text,
                  "the stent reaches %.1f mm back from the branch point, this balloon is %.0f mm long: a "
                  "second inflation further back fits the rest",
                  room, length);
    else
        text[0] = '\0';
    bk_json_put_text(item, "second_inflation", text[0] && view->chosen->pot_room_known ? text : NULL);
}

void bk_devices_put_shelf(bk_json *item, const bk_devices_view *view, const bk_device *device)
{
    const bk_choice *choice = &view->chosen->of[device->use];
    bk_json *list = bk_json_array();
    if (device->use == BK_USE_POT_BALLOON && choice->asked) {
        put_pot(item, view, choice);
        put_other_sources(item, view, device);
    } else if (device->use != BK_USE_MAIN_STENT)
        bk_json_put_fixed(item, "length_mm",
                          device->use == BK_USE_SIDE_STENT ? view->chosen->side_length_mm : (double)NAN, 0);
    if (device->use == BK_USE_MAIN_STENT && !isnan(view->chosen->lengthening_mm))
        bk_json_put_fixed(item, "lengthening_mm", view->chosen->lengthening_mm, 1);
    bk_json_put_fixed(item, "pressure_atm", choice->asked ? choice->pressure.atm : (double)NAN, 1);
    if (choice->asked && (device->use == BK_USE_MAIN_STENT || device->use == BK_USE_SIDE_STENT))
        put_in_vivo(item);
    for (size_t i = 0; i < choice->n; i++)
        bk_json_push(list, match_json(choice, i, device->size.target_mm));
    bk_json_put(item, "shelf_match", list);
}

/* ---- guide, wire, microcatheter ---- */

static bk_json *kit_match(const bk_stock_item *item)
{
    bk_json *entry = bk_json_object();
    bk_json_put_text(entry, "id", item->id);
    bk_json_put_text(entry, "name", item->name);
    bk_json_put_text(entry, "class", item->cls == BK_CLASS_NONE ? NULL : bk_stock_class_names[item->cls]);
    if (!isnan(item->tip_load_g))
        bk_json_put_fixed(entry, "tip_load_g", item->tip_load_g, 2);
    if (!isnan(item->length_cm))
        bk_json_put_fixed(entry, "length_cm", item->length_cm, 0);
    bk_json_put_text(entry, "standing", item->standing);
    return entry;
}

static bk_json *kit_matches(const bk_stock *stock, bk_stock_kind kind, double tip_load_g, double french)
{
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < stock->n && bk_json_count(list) < BK_STOCK_MATCHES + 1; i++)
        if (stock->items[i].kind == kind && !(stock->items[i].tip_load_g > tip_load_g) &&
            !(french > 0 && stock->items[i].french != french))
            bk_json_push(list, kit_match(&stock->items[i]));
    return list;
}

static bk_json *kit(const char *use, const char *why, const char *note, bk_json *matches)
{
    bk_json *item = bk_json_object();
    bk_json_put_text(item, "use", use);
    bk_json_put_null(item, "diameter_mm");
    bk_json_put_null(item, "length_mm");
    bk_json_put_null(item, "pressure_atm");
    bk_json_put_text(item, "why", why);
    bk_json_put_text(item, "note", note);
    bk_json_put(item, "shelf_match", matches);
    bk_json_put_null(item, "hold");
    return item;
}

void bk_devices_push_kit(bk_json *items, const bk_devices_view *view)
{
    const bk_stock *stock = view->asked->stock;
    const double light = bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("side_wire_tip_load"));
    const int french = view->guide->french;
    char why[TEXT];
    if (french)
        bk_format(why, sizeof why, "%d F: the smallest from 6 F in which no planned moment is a no", french);
    else
        bk_format(why, sizeof why, "no guide up to %d F takes every planned moment", BK_GUIDE_TO);
    bk_json *guide = kit("guide", why, "see the guide at every moment",
                         kit_matches(stock, BK_STOCK_GUIDE, (double)NAN, french));
    if (french)
        bk_json_put_integer(guide, "french", french);
    bk_json_push(items, guide);
    bk_format(why, sizeof why,
              "a tip of at most %g g for the side branch and for re-crossing; one class up at a time", light);
    bk_json_push(items,
                 kit("wire", why,
                     "jacketed or not for the wire that is jailed: both are published, see the sources",
                     kit_matches(stock, BK_STOCK_WIRE, light, 0)));
    bk_json *catheters = kit_matches(stock, BK_STOCK_DUAL_LUMEN, (double)NAN, 0),
            *single = kit_matches(stock, BK_STOCK_MICROCATHETER, (double)NAN, 0);
    for (size_t i = 0; i < bk_json_count(single); i++)
        bk_json_push(catheters, bk_json_copy(bk_json_at(single, i)));
    bk_json_free(single);
    bk_json_push(
        items, kit("microcatheter",
                   "in the room for re-crossing: dual-lumen over the main wire, angled for a steep take-off",
                   NULL, catheters));
}

/* ---- what stands around it ---- */

static void note_matches(const bk_devices_view *view, bk_answer *answer)
{
    for (size_t i = 0; i < view->devices->n; i++) {
        const bk_device *device = &view->devices->items[i];
        const bk_choice *choice = &view->chosen->of[device->use];
        if (!choice->asked || !view->asked->stocked)
            continue;
        if (choice->n == 0 && !isnan(choice->wish.at_least_mm))
            bk_answer_caution(answer,
                              "%s: the stock list has none of %.2f mm that is %.0f mm long; two stents with "
                              "overlap, or another list.",
                              bk_use_words[device->use], choice->wish.nominal_mm, choice->wish.at_least_mm);
        else if (choice->n == 0)
            bk_answer_caution(answer, "%s: nothing in the stock list answers %.2f mm.",
                              bk_use_words[device->use], choice->wish.nominal_mm);
        else if (!choice->match[0].exact)
            bk_answer_caution(answer, "%s: %.2f mm is not in the stock list, the next smaller one is shown.",
                              bk_use_words[device->use], choice->wish.nominal_mm);
    }
}

static bool any_table(const bk_chosen *chosen)
{
    for (int use = 0; use < BK_USES; use++)
        if (chosen->of[use].n > 0 && chosen->of[use].pressure.verdict != BK_PRESSURE_NO_TABLE)
            return true;
    return false;
}

void bk_devices_note_shelf(const bk_devices_view *view, bk_answer *answer)
{
    static const char *const sources[] = {
        BK_EVIDENCE("inflated_deficit"),        BK_EVIDENCE("inflated_recoil"),
        BK_EVIDENCE("final_below_chart"),       BK_EVIDENCE("recoil_definition"),
        BK_EVIDENCE("side_wire_tip_load"),      BK_EVIDENCE("harm_damage_plain"),
        BK_EVIDENCE("harm_damage_polymer"),     BK_EVIDENCE("harm_jacket_mi"),
        BK_EVIDENCE("pot_position_before"),     BK_EVIDENCE("pot_not_over_carina"),
        BK_EVIDENCE("pot_position_after_harm"), BK_EVIDENCE("platform_larger_class")};
    const bk_asked *asked = view->asked;
    char why[TEXT];
    bk_answer_input_text(answer, "shelf", asked->stocked ? asked->stock->name : asked->c->shelf,
                         strcmp(asked->stock->name, "entered") == 0 || asked->c->shelf[0] ? "entered"
                                                                                          : "assumed");
    if (!asked->stocked) {
        bk_format(why, sizeof why,
                  "no stock list of this name is built in (default, demo); a file is given with --shelf: "
                  "nothing is matched, guide fit is by generic profiles");
        bk_answer_missing(answer, "shelf", why);
    } else if (strcmp(asked->stock->name, "default") == 0) {
        bk_answer_caution(answer, "The stock list is the generic one: typical values, from memory or custom; "
                                  "give the lab's own with --shelf.");
    } else if (strcmp(asked->stock->name, "demo") == 0) {
        bk_answer_caution(answer, "The stock list is invented, for demonstration.");
    }
    if (!any_table(view->chosen))
        bk_answer_missing(answer, "items[].pressure_atm",
                          "needs the compliance table of the balloon or stent taken; the list holds none");
    if (view->devices->n == 0)
        return;
    note_matches(view, answer);
    for (size_t i = 0; i < sizeof sources / sizeof sources[0]; i++)
        bk_answer_source(answer, sources[i]);
    if (!isnan(view->chosen->lengthening_mm))
        bk_answer_source(answer, BK_EVIDENCE("left_main_lengthening"));
    if (view->devices->strategy.second_stent)
        bk_answer_source(answer, BK_EVIDENCE("side_protrusion"));
}
