/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/choose.h"

#include <math.h>

static const bk_device *sized(const bk_devices *devices, bk_use use)
{
    for (size_t i = 0; i < devices->n; i++)
        if (devices->items[i].use == use && devices->items[i].size.known)
            return &devices->items[i];
    return NULL;
}

static bool culotte(enum bk_strategy strategy)
{
    return strategy == BK_CULOTTE || strategy == BK_DK_CULOTTE;
}

/* The largest round balloon that opens the main stent. */
static double round_balloon(const bk_devices *devices)
{
    const bk_device *pot = sized(devices, BK_USE_POT_BALLOON);
    return pot ? fmax(pot->size.target_mm, pot->size.nominal_mm) : (double)NAN;
}

static double side_length(const bk_devices *devices, const bk_facts *facts, const bk_evidence_set *evidence)
{
    const bk_limb_facts *limb = &facts->limb[devices->strategy.other];
    const bk_qty length = limb->lesion_length_mm.q;
    const enum bk_strategy strategy = devices->strategy.strategy;
    if (!devices->strategy.second_stent || culotte(strategy) ||
        devices->main_length.verdict == BK_LENGTH_WITHDRAWN)
        return (double)NAN;
    if (!limb->no_lesion && (!bk_has(length) || length.origin == BK_PROJECTED))
        return (double)NAN;
    const double protrusion =
        strategy == BK_T ? 0 : bk_evidence_high(evidence, BK_EVIDENCE("side_protrusion"));
    return (limb->no_lesion ? 0 : length.value) + protrusion;
}

static void set_pot_room(const bk_devices *devices, const bk_evidence_set *evidence, bk_chosen *out)
{
    const bk_length_verdict verdict = devices->main_length.verdict;
    out->pot_room_known = verdict == BK_LENGTH_GIVEN || verdict == BK_LENGTH_HELD;
    out->pot_room_mm = out->pot_room_known ? devices->main_length.proximal_mm
                                           : bk_evidence_value(evidence, BK_EVIDENCE("landing_proximal"));
}

static bk_stock_wish wish_for(const bk_devices *devices, const bk_device *item, const bk_chosen *so_far)
{
    const double none = (double)NAN;
    bk_stock_wish wish = {BK_STOCK_BALLOON, BK_CLASS_NON, item->size.nominal_mm, none, none, none, none};
    if (item->use == BK_USE_MAIN_STENT) {
        wish.kind = BK_STOCK_STENT;
        wish.cls = BK_CLASS_NONE;
        wish.at_least_mm = devices->main_length.length_mm;
        wish.reach_mm = so_far->round_mm;
    } else if (item->use == BK_USE_SIDE_STENT) {
        wish.kind = BK_STOCK_STENT;
        wish.cls = BK_CLASS_NONE;
        wish.at_least_mm = so_far->side_length_mm;
        wish.reach_mm = culotte(devices->strategy.strategy) ? so_far->round_mm : item->size.nominal_mm;
    } else if (item->use == BK_USE_POT_BALLOON) {
        wish.at_most_mm = so_far->pot_room_mm;
    } else if (item->use == BK_USE_PREDILATATION && !devices->calcium) {
        wish.cls = BK_CLASS_SEMI;
    }
    return wish;
}

static double lengthening(const bk_devices *devices, int site, double round_mm,
                          const bk_evidence_set *evidence)
{
    const bk_device *stent = sized(devices, BK_USE_MAIN_STENT);
    if (site != BK_LEFT_MAIN || !stent || isnan(round_mm))
        return (double)NAN;
    return bk_evidence_value(evidence, BK_EVIDENCE("left_main_lengthening")) *
           fmax(0, round_mm - stent->size.nominal_mm);
}

bk_chosen bk_choose(const bk_devices *devices, const bk_facts *facts, int site, const bk_stock *stock,
                    const bk_evidence_set *evidence)
{
    bk_chosen out = {.round_mm = round_balloon(devices)};
    set_pot_room(devices, evidence, &out);
    out.side_length_mm = side_length(devices, facts, evidence);
    out.lengthening_mm = lengthening(devices, site, out.round_mm, evidence);
    for (size_t i = 0; i < devices->n; i++) {
        const bk_device *item = &devices->items[i];
        bk_choice *choice = &out.of[item->use];
        if (!item->size.known)
            continue;
        choice->asked = true;
        choice->wish = wish_for(devices, item, &out);
        choice->n = bk_stock_find(stock, &choice->wish, evidence, choice->match);
        choice->pressure = (bk_pressure){BK_PRESSURE_NO_TABLE, (double)NAN, (double)NAN};
        if (choice->n > 0)
            choice->pressure = bk_stock_pressure(choice->match[0].item, item->size.target_mm);
    }
    return out;
}
