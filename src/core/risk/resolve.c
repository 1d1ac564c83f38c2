/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/risk/resolve.h"

#include <math.h>

#include "base/format.h"

#define BANDS_MAX 4
#define ID_ROOM 64

static const bk_evidence *read_row(const bk_evidence_set *evidence, const char *id)
{
    const bk_evidence *row = bk_evidence_find(evidence, id);
    return row && row->standing == BK_SEEN && !isnan(row->value) ? row : NULL;
}

static void add(bk_span *sum, double low, double high)
{
    sum->low += low;
    sum->high += high;
}

/* A banded item: the points at both ends of what is known of the quantity. False: no usable band. */
static bool add_banded(const char *item, bk_span known, const bk_evidence_set *evidence, bk_span *sum)
{
    double low = 0, high = 0, before = -(double)INFINITY;
    int n = 0;
    for (; n < BANDS_MAX; n++) {
        char points_id[ID_ROOM], from_id[ID_ROOM];
        bk_format(points_id, sizeof points_id, "resolve_points_%s_%d", item, n + 1);
        bk_format(from_id, sizeof from_id, "resolve_points_%s_%d_from", item, n + 1);
        const bk_evidence *points = read_row(evidence, points_id), *from = read_row(evidence, from_id);
        if (!bk_evidence_find(evidence, points_id) && !bk_evidence_find(evidence, from_id))
            break;
        if (!points || !from || from->value <= before)
            return false; // half a band, or one that was not read
        before = from->value;
        low = known.low >= from->value ? points->value : low;
        high = known.high >= from->value ? points->value : high;
    }
    add(sum, fmin(low, high), fmax(low, high));
    return n > 0;
}

static bool add_plaque(bk_tri same, const bk_evidence_set *evidence, bk_span *sum)
{
    const bk_evidence *row = read_row(evidence, "resolve_points_plaque_same");
    if (!row)
        return false;
    add(sum, same == BK_YES ? row->value : 0, same == BK_NO ? 0 : row->value);
    return true;
}

static bool add_flow(int timi, const bk_evidence_set *evidence, bk_span *sum)
{
    static const char *const ids[] = {"resolve_points_timi_0", "resolve_points_timi_1", "resolve_points_timi_2"};
    double most = 0;
    for (int i = 0; i < 3; i++) {
        const bk_evidence *row = read_row(evidence, ids[i]);
        if (!row)
            return false;
        if (timi == i) {
            add(sum, row->value, row->value);
            return true;
        }
        most = fmax(most, row->value);
    }
    if (timi == BK_INTEGER_ABSENT)
        add(sum, 0, most);
    return true;
}

bk_resolve_score bk_resolve_score_of(const bk_risk_inputs *inputs, int main_timi, const bk_evidence_set *evidence)
{
    static const struct {
        const char *item;
        bk_risk_quantity quantity;
    } banded[] = {{"core", BK_Q_CORE_STENOSIS}, {"angle", BK_Q_DISTAL_SIDE_ANGLE}, {"ratio", BK_Q_DIAMETER_RATIO}, {"side", BK_Q_SIDE_STENOSIS}};
    bk_resolve_score out = {false, {0, 0}, BK_UNKNOWN};
    bk_span spans[BK_RISK_INPUTS];
    bk_risk_spans(inputs, spans);
    bool whole = add_plaque(inputs->known[BK_FACT_PLAQUE_SAME], evidence, &out.points) && add_flow(main_timi, evidence, &out.points);
    for (size_t i = 0; i < sizeof banded / sizeof banded[0]; i++)
        whole = whole && add_banded(banded[i].item, bk_risk_quantity_of(banded[i].quantity, spans), evidence, &out.points);
    out.entered = whole;
    if (!whole)
        return out;
    const double line = bk_evidence_value(evidence, BK_EVIDENCE("v_resolve_line"));
    out.high = out.points.low >= line ? BK_YES : out.points.high < line ? BK_NO : BK_UNKNOWN;
    return out;
}
