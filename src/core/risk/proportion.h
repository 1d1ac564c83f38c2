/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Intervals of published counts. */
#ifndef BK_CORE_RISK_PROPORTION_H
#define BK_CORE_RISK_PROPORTION_H

typedef struct bk_proportion {
    double pct, low_pct, high_pct; /* NaN: cannot be said */
} bk_proportion;

#define BK_COUNT_LEVEL_PCT 95 /* of intervals of counts (contract) */

/**
 * Wilson's interval at 95 % of events out of n, 0 <= events <= n, n >= 1.
 * Source: Wilson EB, J Am Stat Assoc 1927;22:209 (from memory); checked against scipy's binomtest.
 */
bk_proportion bk_wilson(double events, double n);

#endif
