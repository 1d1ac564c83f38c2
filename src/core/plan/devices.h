/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sizes for one strategy: what `ask devices` answers with, as numbers. */
#ifndef BK_CORE_PLAN_DEVICES_H
#define BK_CORE_PLAN_DEVICES_H

#include "core/anatomy/branching.h"
#include "core/plan/kissing.h"
#include "core/plan/sizing.h"
#include "core/plan/strategy.h"

typedef enum bk_use { /* in the order in which they are listed */
                      BK_USE_MAIN_STENT,
                      BK_USE_SIDE_STENT,
                      BK_USE_POT_BALLOON,
                      BK_USE_SIDE_BALLOON,
                      BK_USE_KISSING_MAIN,
                      BK_USE_KISSING_SIDE,
                      BK_USE_PREDILATATION,
                      BK_USES
} bk_use;
/** "predilatation", "main_stent", ... */
extern const char *const bk_use_names[BK_USES];
extern const char *const bk_use_words[BK_USES]; /* the same for people */

typedef struct bk_device {
    bk_use use;
    enum bk_limb by; /* limb whose reference sizes it */
    bk_size_choice size;
} bk_device;

typedef struct bk_mother_check {
    const char *law_id; /* evidence row */
    double mother_mm;
    double difference_mm; /* proximal reference minus mother; NaN when either is missing */
    bool applies;         /* the law agreed with data at this ratio of the daughters (Huo 2012) */
} bk_mother_check;

/* Is the proximal reference out of step with both the fractal ratio and the HK law? */
typedef enum bk_mother_doubt { BK_MOTHER_NO_DOUBT, BK_MOTHER_SMALL, BK_MOTHER_LARGE } bk_mother_doubt;
#define BK_MOTHER_LAWS 3

typedef struct bk_devices {
    bk_strategy_traits strategy;
    bool withdrawn; /* the ways to the scale disagree: no size in mm is given */
    bk_device items[BK_USES];
    size_t n;
    bool calcium;                                       /* predilatation 1:1 because of calcium */
    double predilatation_low_mm, predilatation_high_mm; /* NaN when the reference is missing */
    bk_platform platforms[BK_PLATFORMS_MAX]; /* for the main stent against the proximal reference */
    size_t platforms_n;
    bk_stent_length main_length;
    bool kissing_known;
    bk_kissing kissing;                   /* of the two nominal kissing balloons */
    bool laws_known;                      /* both daughters' references are there */
    bk_mother_check laws[BK_MOTHER_LAWS]; /* fractal, HK, Murray */
    double daughter_ratio;                /* smaller over larger; NaN when unknown */
    bk_mother_doubt mother_doubt;
    bool distal_larger;            /* the distal reference is above the proximal one */
    double perimeter_over_fractal; /* belt of the kissing pair over its fractal mother; NaN when unknown */
    bool spread_unknown;           /* a size rests on a reference without SD */
} bk_devices;

/**
 * Work out all sizes.
 *
 * Main stent 1:1 by the reference of the daughter in the stent's axis; POT balloon 1:1 by the proximal
 * reference; kissing pair, side balloon and side stent by the daughters' references; predilatation 0.5 mm
 * below but not under the usual ratio, or 1:1 in moderate or severe calcium. A missing reference leaves its
 * items unknown; nothing is put in its place.
 * Source  evidence/sizing.csv
 */
bk_devices bk_devices_plan(const bk_facts *facts, int calcium, int strategy, const bk_evidence_set *evidence);

#endif
