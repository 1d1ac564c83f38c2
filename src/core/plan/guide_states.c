/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/guide_states.h"

#include <assert.h>
#include <math.h>
#include <stddef.h>

/* What can lie in the guide, as words and as a profile. */
typedef enum slot {
    EMPTY,
    MAIN_STENT,
    SIDE_STENT,
    POT,
    SIDE_BALLOON,
    KISS_MAIN,
    KISS_SIDE,
    PREDIL,
    MAIN_WIRE,
    SIDE_WIRE,
    JAILED_WIRE,
    MICRO,
    DUAL,
    SLOTS
} slot;

static const struct {
    const char *words;
    bk_kind kind;
    bk_use use;          /* BK_USES: not a sized device */
    bk_stock_kind stock; /* of devices that are not sized */
} slots[SLOTS] = {
    [MAIN_STENT] = {"main stent", BK_KIND_STENT, BK_USE_MAIN_STENT, BK_STOCK_KINDS},
    [SIDE_STENT] = {"side-branch stent", BK_KIND_STENT, BK_USE_SIDE_STENT, BK_STOCK_KINDS},
    [POT] = {"POT balloon", BK_KIND_BALLOON, BK_USE_POT_BALLOON, BK_STOCK_KINDS},
    [SIDE_BALLOON] = {"side-branch balloon", BK_KIND_BALLOON, BK_USE_SIDE_BALLOON, BK_STOCK_KINDS},
    [KISS_MAIN] = {"main balloon", BK_KIND_BALLOON, BK_USE_KISSING_MAIN, BK_STOCK_KINDS},
    [KISS_SIDE] = {"side-branch balloon", BK_KIND_BALLOON, BK_USE_KISSING_SIDE, BK_STOCK_KINDS},
    [PREDIL] = {"predilatation balloon", BK_KIND_BALLOON, BK_USE_PREDILATATION, BK_STOCK_KINDS},
    [MAIN_WIRE] = {"main wire", BK_KIND_WIRE, BK_USES, BK_STOCK_KINDS},
    [SIDE_WIRE] = {"side-branch wire", BK_KIND_WIRE, BK_USES, BK_STOCK_KINDS},
    [JAILED_WIRE] = {"jailed wire", BK_KIND_WIRE, BK_USES, BK_STOCK_KINDS},
    [MICRO] = {"microcatheter with the third wire", BK_KIND_MICROCATHETER, BK_USES, BK_STOCK_MICROCATHETER},
    [DUAL] = {"dual-lumen microcatheter with main and third wire", BK_KIND_DUAL_LUMEN, BK_USES,
              BK_STOCK_DUAL_LUMEN},
};

#define OF(strategy) (1u << (strategy))
#define ALL (~0u)
#define PROVISIONAL (OF(BK_PROVISIONAL) | OF(BK_PROVISIONAL_WIRE))
#define TWO_STENTS (OF(BK_T) | OF(BK_TAP) | OF(BK_CULOTTE) | OF(BK_DK_CULOTTE) | OF(BK_DK_CRUSH))

/* In the order of a procedure. needed: strategies of which it is part; possible: those in which it is a
 * bail-out or a variant. */
static const struct {
    unsigned planned, possible;
    const char *moment;
    slot in[BK_GUIDE_DEVICES];
} moments[] = {
    {ALL & ~OF(BK_KISSING_PREDILATATION), 0, "predilatation, side branch wired", {PREDIL, SIDE_WIRE}},
    {OF(BK_KISSING_PREDILATATION), 0, "kissing predilatation", {PREDIL, SIDE_BALLOON}},
    {OF(BK_DK_CRUSH),
     0,
     "side-branch stent, crushing balloon waiting in the main vessel",
     {SIDE_STENT, KISS_MAIN}},
    {0,
     OF(BK_DK_CRUSH),
     "side-branch stent while the main stent waits in the main vessel",
     {SIDE_STENT, MAIN_STENT}},
    {ALL & ~OF(BK_JAILED_BALLOON), 0, "main stent, side branch wired", {MAIN_STENT, SIDE_WIRE}},
    {OF(BK_JAILED_BALLOON), 0, "main stent beside the jailed balloon", {MAIN_STENT, SIDE_BALLOON}},
    {ALL & ~OF(BK_DK_CRUSH), 0, "POT over the jailed wire", {POT, JAILED_WIRE}},
    {0, ALL, "re-crossing with a microcatheter, jailed wire in", {MICRO, MAIN_WIRE, JAILED_WIRE}},
    {0, ALL, "re-crossing with a dual-lumen microcatheter, jailed wire in", {DUAL, JAILED_WIRE}},
    {0, ALL, "small balloon over the jailed wire", {SIDE_BALLOON, MAIN_WIRE}},
    {OF(BK_T) | OF(BK_TAP),
     0,
     "side-branch stent beside the uninflated main balloon",
     {SIDE_STENT, KISS_MAIN}},
    {OF(BK_CULOTTE) | OF(BK_DK_CULOTTE),
     0,
     "second stent over the side wire, main wire in",
     {SIDE_STENT, MAIN_WIRE}},
    {OF(BK_DCB_SIDE), 0, "drug-coated balloon into the side branch, main wire in", {SIDE_BALLOON, MAIN_WIRE}},
    {PROVISIONAL | TWO_STENTS | OF(BK_INVERTED) | OF(BK_JAILED_BALLOON) | OF(BK_KISSING_PREDILATATION) |
         OF(BK_DCB_SIDE),
     OF(BK_SINGLE_LIMB),
     "kissing",
     {KISS_MAIN, KISS_SIDE}},
    {0,
     PROVISIONAL | OF(BK_INVERTED) | OF(BK_KISSING_PREDILATATION),
     "kissing with the jailed wire still in",
     {KISS_MAIN, KISS_SIDE, JAILED_WIRE}},
    {0,
     PROVISIONAL,
     "bail-out: side-branch stent beside the uninflated main balloon",
     {SIDE_STENT, KISS_MAIN}},
};

static const bk_stock_item *first_of(const bk_stock *stock, bk_stock_kind kind, int french)
{
    for (size_t i = 0; i < stock->n; i++)
        if (stock->items[i].kind == kind && (french == 0 || stock->items[i].french == french))
            return &stock->items[i];
    return NULL;
}

static bk_profile profile_of(slot what, const bk_chosen *chosen, const bk_stock *stock,
                             const bk_evidence_set *evidence)
{
    const bk_stock_item *item = NULL;
    if (slots[what].use != BK_USES)
        item = chosen->of[slots[what].use].n ? chosen->of[slots[what].use].match[0].item : NULL;
    else if (slots[what].stock != BK_STOCK_KINDS)
        item = first_of(stock, slots[what].stock, 0);
    return item ? bk_stock_profile(item, evidence) : bk_fit_profile(evidence, slots[what].kind);
}

static bk_guide_state state_of(size_t m, bool if_needed, const bk_chosen *chosen, const bk_stock *stock,
                               const double *inner, const bk_evidence_set *evidence)
{
    bk_guide_state out = {.moment = moments[m].moment, .if_needed = if_needed};
    for (; out.n < BK_GUIDE_DEVICES && moments[m].in[out.n] != EMPTY; out.n++) {
        out.device[out.n] = slots[moments[m].in[out.n]].words;
        out.profile[out.n] = profile_of(moments[m].in[out.n], chosen, stock, evidence);
    }
    for (int g = 0; g < BK_GUIDES; g++)
        out.fit[g] = bk_fit_profiles(evidence, out.profile, out.n, inner[g], BK_GUIDE_FROM + g);
    return out;
}

static void set_guides(const bk_stock *stock, const bk_evidence_set *evidence, bk_guide *out)
{
    for (int g = 0; g < BK_GUIDES; g++) {
        const bk_stock_item *own = first_of(stock, BK_STOCK_GUIDE, BK_GUIDE_FROM + g);
        out->in_stock[g] = own != NULL;
        out->inner_mm[g] =
            own && !isnan(own->inner_mm) ? own->inner_mm : bk_fit_guide_inner(evidence, BK_GUIDE_FROM + g);
    }
}

static int smallest(const bk_guide *guide)
{
    for (int g = 6 - BK_GUIDE_FROM; g < BK_GUIDES; g++) {
        bool goes = true;
        for (size_t i = 0; i < guide->n; i++)
            goes = goes && (guide->states[i].if_needed || guide->states[i].fit[g].verdict <= BK_TIGHT);
        if (goes)
            return BK_GUIDE_FROM + g;
    }
    return 0;
}

static bk_guide_extension extension_of(int french, const bk_chosen *chosen, const bk_stock *stock,
                                       const bk_evidence_set *evidence)
{
    static const char *const ids[BK_EXTENSIONS] = {
        BK_EVIDENCE("extension_inner_6"), BK_EVIDENCE("extension_inner_7"), BK_EVIDENCE("extension_inner_8")};
    const bk_stock_item *own = first_of(stock, BK_STOCK_EXTENSION, french);
    bk_guide_extension out = {.french = french};
    out.inner_mm =
        own && !isnan(own->inner_mm) ? own->inner_mm : bk_evidence_value(evidence, ids[french - 6]);
    const bk_profile stent[] = {profile_of(MAIN_STENT, chosen, stock, evidence),
                                profile_of(SIDE_WIRE, chosen, stock, evidence)};
    const bk_profile pair[] = {profile_of(KISS_MAIN, chosen, stock, evidence),
                               profile_of(KISS_SIDE, chosen, stock, evidence)};
    out.stent = bk_fit_profiles(evidence, stent, 2, out.inner_mm, 0);
    out.kissing = bk_fit_profiles(evidence, pair, 2, out.inner_mm, 0);
    return out;
}

static void set_exchange(const bk_stock *stock, const bk_evidence_set *evidence, bk_guide *out)
{
    const bk_stock_item *catheter = first_of(stock, BK_STOCK_MICROCATHETER, 0);
    out->catheter_cm = catheter && !isnan(catheter->length_cm)
                           ? catheter->length_cm
                           : bk_evidence_value(evidence, BK_EVIDENCE("microcatheter_length"));
    out->exchange_cm = bk_evidence_value(evidence, BK_EVIDENCE("guide_length")) +
                       bk_evidence_value(evidence, BK_EVIDENCE("vessel_length_in")) + out->catheter_cm +
                       bk_evidence_value(evidence, BK_EVIDENCE("fit_wire_in_hand"));
    out->standard_cm = bk_evidence_value(evidence, BK_EVIDENCE("wire_length"));
    out->longest_cm = (double)NAN;
    for (size_t i = 0; i < stock->n; i++)
        if (stock->items[i].kind == BK_STOCK_WIRE)
            out->longest_cm = fmax(out->longest_cm, stock->items[i].length_cm); // fmax passes over NaN
}

bk_guide bk_guide_plan(enum bk_strategy strategy, const bk_chosen *chosen, const bk_stock *stock,
                       const bk_evidence_set *evidence)
{
    bk_guide out = {0};
    set_guides(stock, evidence, &out);
    for (size_t m = 0; m < sizeof moments / sizeof moments[0]; m++) {
        const bool planned = moments[m].planned >> strategy & 1,
                   possible = moments[m].possible >> strategy & 1;
        if (!planned && !possible)
            continue;
        assert(out.n < BK_GUIDE_STATES);
        out.states[out.n++] = state_of(m, !planned, chosen, stock, out.inner_mm, evidence);
    }
    out.french = smallest(&out);
    for (int i = 0; i < BK_EXTENSIONS; i++)
        out.extension[i] = extension_of(6 + i, chosen, stock, evidence);
    set_exchange(stock, evidence, &out);
    return out;
}
