/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/shelf.h"

#include <math.h>

#define SAME 1e-6

/* What a design bears after dilatation: its own label, else the range of its class. */
static bool maximum_of(const bk_stock_item *item, const bk_evidence_set *evidence, double *low, double *high)
{
    static const char *const ids[] = {
        [BK_CLASS_SMALL] = BK_EVIDENCE("platform_small_maximum"),
        [BK_CLASS_MEDIUM] = BK_EVIDENCE("platform_medium_maximum"),
        [BK_CLASS_LARGE] = BK_EVIDENCE("platform_large_maximum"),
        [BK_CLASS_EXTRA_LARGE] = BK_EVIDENCE("platform_extra_large_maximum"),
    };
    *low = *high = item->maximum_mm;
    if (!isnan(item->maximum_mm))
        return false;
    if (item->kind != BK_STOCK_STENT)
        return false;
    *low = bk_evidence_low(evidence, ids[item->cls]);
    *high = bk_evidence_high(evidence, ids[item->cls]);
    return true;
}

/* The wished size, or the largest below it; NaN: neither is made. */
static double nominal_of(const bk_stock_item *item, double wished)
{
    double best = (double)NAN;
    for (size_t i = 0; i < item->nominal_mm.n; i++)
        if (item->nominal_mm.v[i] <= wished + SAME)
            best = item->nominal_mm.v[i];
    return best;
}

/* false: no length answers the wish */
static bool length_of(const bk_stock_item *item, const bk_stock_wish *wish, double *out)
{
    *out = (double)NAN;
    if (isnan(wish->at_least_mm) && isnan(wish->at_most_mm))
        return true;
    for (size_t i = 0; i < item->length_mm.n; i++) {
        const double v = item->length_mm.v[i];
        if (v < wish->at_least_mm - SAME || v > wish->at_most_mm + SAME)
            continue;
        *out = v;
        if (!isnan(wish->at_least_mm))
            return true; // the first that is long enough
    }
    return !isnan(*out);
}

static bool answers(const bk_stock_item *item, const bk_stock_wish *wish, const bk_evidence_set *evidence,
                    bk_stock_match *out)
{
    if (item->kind != wish->kind || (wish->cls != BK_CLASS_NONE && item->cls != wish->cls) ||
        item->tip_load_g > wish->tip_load_at_most_g + SAME)
        return false;
    *out = (bk_stock_match){.item = item, .nominal_mm = (double)NAN, .exact = true};
    if (!length_of(item, wish, &out->length_mm))
        return false;
    out->by_class = maximum_of(item, evidence, &out->maximum_low_mm, &out->maximum_high_mm);
    out->reach_known = !isnan(wish->reach_mm) && !isnan(out->maximum_low_mm);
    if (out->reach_known)
        out->reach = wish->reach_mm <= out->maximum_low_mm    ? BK_PLATFORM_WITHIN
                     : wish->reach_mm <= out->maximum_high_mm ? BK_PLATFORM_MARGINAL
                                                              : BK_PLATFORM_ABOVE;
    if (isnan(wish->nominal_mm))
        return true;
    out->nominal_mm = nominal_of(item, wish->nominal_mm);
    out->exact = fabs(out->nominal_mm - wish->nominal_mm) <= SAME;
    return !isnan(out->nominal_mm);
}

/* Negative: a before b. */
static int compare(const bk_stock_match *a, const bk_stock_match *b, bool longest)
{
    if (!isnan(a->nominal_mm) && fabs(a->nominal_mm - b->nominal_mm) > SAME)
        return a->nominal_mm > b->nominal_mm ? -1 : 1;
    if (a->reach != b->reach)
        return (int)a->reach - (int)b->reach;
    if (!isnan(a->length_mm) && fabs(a->length_mm - b->length_mm) > SAME)
        return (a->length_mm < b->length_mm) != longest ? -1 : 1;
    return 0;
}

size_t bk_stock_find(const bk_stock *stock, const bk_stock_wish *wish, const bk_evidence_set *evidence,
                     bk_stock_match out[BK_STOCK_MATCHES])
{
    const bool longest = isnan(wish->at_least_mm);
    size_t n = 0;
    for (size_t i = 0; i < stock->n; i++) {
        bk_stock_match found;
        if (!answers(&stock->items[i], wish, evidence, &found))
            continue;
        size_t at = n < BK_STOCK_MATCHES ? n : BK_STOCK_MATCHES;
        while (at > 0 && compare(&found, &out[at - 1], longest) < 0) {
            if (at < BK_STOCK_MATCHES)
                out[at] = out[at - 1];
            at--;
        }
        if (at < BK_STOCK_MATCHES)
            out[at] = found;
        n += n < BK_STOCK_MATCHES;
    }
    while (n > 1 && !isnan(out[0].nominal_mm) && out[n - 1].nominal_mm < out[0].nominal_mm - SAME)
        n--; // one size only: smaller ones stand in for it, not beside it
    return n;
}

/* Straight lines through the table; x between its ends. */
static double between(const double *from, const double *to, size_t n, double x)
{
    for (size_t i = 1; i < n; i++)
        if (x <= from[i])
            return from[i] == from[i - 1]
                       ? to[i - 1]
                       : to[i - 1] + (to[i] - to[i - 1]) * (x - from[i - 1]) / (from[i] - from[i - 1]);
    return to[n - 1];
}

double bk_stock_diameter(const bk_stock_item *item, double nominal_mm, double atm)
{
    const double at = atm > item->rated_atm ? item->rated_atm : atm;
    const size_t n = item->table_atm.n;
    if (n > 0)
        return at < item->table_atm.v[0] ? (double)NAN : between(item->table_atm.v, item->table_mm.v, n, at);
    return nominal_mm * (1 + item->growth_pct_atm / 100 * (at - item->nominal_atm));
}

bk_pressure bk_stock_pressure(const bk_stock_item *item, double wanted_mm)
{
    bk_pressure out = {BK_PRESSURE_NO_TABLE, (double)NAN, (double)NAN};
    const size_t n = item->table_atm.n;
    if (n < 2 || isnan(item->rated_atm) || item->rated_atm < item->table_atm.v[0])
        return out;
    out.at_rated_mm = bk_stock_diameter(item, item->nominal_mm.v[0], item->rated_atm);
    if (wanted_mm < item->table_mm.v[0] - SAME)
        out.verdict = BK_PRESSURE_BELOW_TABLE;
    else if (wanted_mm > out.at_rated_mm + SAME)
        out.verdict = BK_PRESSURE_ABOVE_RATED;
    else {
        out.verdict = BK_PRESSURE_GIVEN;
        out.atm = fmin(between(item->table_mm.v, item->table_atm.v, n, fmax(wanted_mm, item->table_mm.v[0])),
                       item->rated_atm);
    }
    return out;
}

bk_profile bk_stock_profile(const bk_stock_item *item, const bk_evidence_set *evidence)
{
    static const bk_kind kinds[BK_STOCK_KINDS] = {BK_KIND_STENT,         BK_KIND_BALLOON,    BK_KIND_WIRE,
                                                  BK_KIND_MICROCATHETER, BK_KIND_DUAL_LUMEN, BK_KIND_WIRE,
                                                  BK_KIND_WIRE};
    bk_profile out = bk_fit_profile(evidence, kinds[item->kind]);
    const double own[BK_LEVELS] = {item->front_mm, item->distal_mm, item->proximal_mm};
    for (int i = 0; i < BK_LEVELS; i++)
        if (!isnan(own[i]))
            out.mm[i] = own[i];
    return out;
}
