/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From a reference diameter to a nominal size, and from lesion lengths to a stent length.
   docs/methods/sizing.md */
#ifndef BK_CORE_PLAN_SIZING_H
#define BK_CORE_PLAN_SIZING_H

#include "base/evidence.h"
#include "core/case/facts.h"
#include "core/num.h"

/** Nominal size nearest to a target; half-way goes to the smaller, since oversizing closes branches. */
double bk_nominal_size(double target_mm, double step_mm);

#define BK_STABLE_PCT 80 /* choice of this project */

typedef struct bk_size_choice {
    bool known; /* false: the reference is missing */
    double target_mm, nominal_mm;
    bool spread_known;                      /* false: the reference has no SD; the numbers below are NaN */
    double low_mm, high_mm;                 /* 90 % interval of the target */
    double low_nominal_mm, high_nominal_mm; /* nominal sizes at its two ends */
    double same_size_pct; /* how often a new measurement would lead to the same nominal size */
    bool stable;          /* same_size_pct at least BK_STABLE_PCT */
} bk_size_choice;

/**
 * Choose a nominal size for a target and say how stable the choice is.
 *
 * Units   mm; sd_mm NaN when unknown
 * Method  normal error: interval target -+ 1.645 SD; same_size_pct is the mass of the normal distribution
 *         around the target over the diameters that round to the same nominal size
 * Source  none: our own construction
 */
bk_size_choice bk_size_choose(double target_mm, double sd_mm, double step_mm);

/* ---- platform classes: typical values, never a limit of their own ---- */

typedef enum bk_platform_verdict {
    BK_PLATFORM_WITHIN,
    BK_PLATFORM_MARGINAL,
    BK_PLATFORM_ABOVE
} bk_platform_verdict;

typedef struct bk_platform {
    const char *name;                     /* "small", "medium", "large", "extra_large" */
    const bk_evidence *nominal, *maximum; /* rows: low and high are the ranges */
    bk_platform_verdict verdict;
} bk_platform;
#define BK_PLATFORMS_MAX 4

/**
 * Classes of stent design that come in a nominal size, each compared with the diameter it must reach.
 * Within: at most the low end of the class's typical label maximum. Marginal: inside its range.
 * Above: over its high end. Returns how many, 0..4.
 */
size_t bk_platforms_for(const bk_evidence_set *evidence, double nominal_mm, double needed_mm,
                        bk_platform out[BK_PLATFORMS_MAX]);

/* ---- stent length ---- */

typedef enum bk_length_verdict {
    BK_LENGTH_MISSING,   /* a lesion length or the side reference is missing */
    BK_LENGTH_HELD,      /* a length was seen in one view only: at_least_mm is all that can be said */
    BK_LENGTH_WITHDRAWN, /* the ways to the scale disagree */
    BK_LENGTH_GIVEN
} bk_length_verdict;

typedef struct bk_stent_length {
    bk_length_verdict verdict;
    double distal_mm, proximal_mm; /* beyond and before the branch point, each with its share of the window */
    double window_mm;              /* stretch across the side ostium */
    double at_least_mm;            /* of the parts as they stand, held or given */
    double length_mm;              /* whole millimetres that cover the parts; NaN unless given */
    double low_mm, high_mm;        /* range with the angle and the SDs that are known; NaN unless given */
    bool spread_known;             /* false: a length without SD is in it, the range is too narrow */
    bool angle_known;              /* false: the window is bounded by 90 degrees and a narrow angle */
    bool ends_known;               /* false: a lesion is taken to begin at the ostium */
} bk_stent_length;

/**
 * Length of the main stent, from the far end of the distal lesion to the near end of the landing.
 *
 * Beyond the branch point: to the end of the distal lesion; where only its length is known it is taken to
 * begin at the ostium, half a window away. Before it: to the end of the proximal lesion likewise, but at
 * least half a window and the landing (the larger of the landing floor and the shortest POT balloon with its
 * margin). Window: side reference / sin(angle), the side ostium cut by the main axis.
 *
 * axis, other  daughter that gets the stent, and the one whose ostium it crosses
 * Source       evidence/sizing.csv: landing_proximal, pot_shortest_balloon, landing_over_pot, ostium_chord
 */
bk_stent_length bk_stent_length_of(const bk_facts *facts, enum bk_limb axis, enum bk_limb other,
                                   const bk_evidence_set *evidence);

#endif
