/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Is a troponin rise out of proportion to what is known of the branch? No amount of muscle is worked out from
   troponin: no slope was published. The pairings are ours, their lines from rows of evidence.
   docs/methods/injury.md */
#ifndef BK_CORE_OUTCOME_PROPORTION_H
#define BK_CORE_OUTCOME_PROPORTION_H

#include "core/outcome/injury.h"

typedef enum bk_disproportion {
    BK_NEVER_CLOSED,    /* above 5 times, and the branch was never closed */
    BK_CLOSED_SHORTLY,  /* above 5 times, closed for 20 min or less and open at the end */
    BK_SMALL_TERRITORY, /* 35 times or more, and all of the interval below a tenth of the ventricle */
    BK_LESS_THAN_LOST, /* not above 5 times, and the branch was lost for good with a tenth of the ventricle or
                          more */
    BK_DISPROPORTIONS
} bk_disproportion;
extern const char *const bk_disproportion_words[BK_DISPROPORTIONS];

/* What is laid side by side; NaN: not known. */
typedef struct bk_side_by_side {
    double rise_x; /* peak less baseline, in multiples */
    double minutes_closed;
    double mass_pct_low, mass_pct_high; /* share of the left ventricle behind the branch */
    bk_tri occluded, lost_at_end;
} bk_side_by_side;

/**
 * present[]: which hold. Returns yes when one of the first three does; no when the rise is not above 5 times,
 * or when closure, minutes and territory are all known and none holds; unknown otherwise.
 */
bk_tri bk_out_of_proportion(const bk_side_by_side *in, const bk_evidence_set *evidence,
                            bool present[BK_DISPROPORTIONS]);

#endif
