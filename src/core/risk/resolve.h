/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The RESOLVE sum, from a point table that a person has entered; without one there is no score. */
#ifndef BK_CORE_RISK_RESOLVE_H
#define BK_CORE_RISK_RESOLVE_H

#include "core/risk/inputs.h"

typedef struct bk_resolve_score {
    bool entered;   /* a whole point table is there, each row of it read in its source */
    bk_span points; /* all that is known of the sum; a point when every item is known */
    bk_tri high;    /* at or above row v_resolve_line; unknown without a table */
} bk_resolve_score;

/**
 * Add the points of the six items.
 *
 * Rows of the table (a user's own evidence, none is built in): resolve_points_plaque_same; resolve_points_timi_2, _1 and
 * _0 for main-vessel flow; for core, angle, ratio and side the bands resolve_points_core_1 ... with the lower end of each
 * in resolve_points_core_1_from (%, deg, ratio, %), included in the band; below the first band 0. At least one band an
 * item, at most four, rising. A row that does not stand as read in its source counts as not there.
 * Items not known widen the span. Angle: between the daughters; ratio: mean main over side reference (Kirat 2022).
 */
bk_resolve_score bk_resolve_score_of(const bk_risk_inputs *inputs, int main_timi, const bk_evidence_set *evidence);

#endif
