/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What speaks against a rebuilt bifurcation: another reading of the same views that fits them far better, or signs that
   the views do not belong together. */
#ifndef BK_CORE_ANATOMY_SPACE_DOUBTS_H
#define BK_CORE_ANATOMY_SPACE_DOUBTS_H

#include "core/anatomy/space/solid.h"

enum { BK_SPACE_DOUBTS_MAX = 16 };

typedef struct bk_space_doubt {
    char code[24];
    char message[180];
} bk_space_doubt;

typedef struct bk_space_doubts {
    size_t n;
    bk_space_doubt doubt[BK_SPACE_DOUBTS_MAX];
} bk_space_doubts;

typedef struct bk_space_limits {
    double separation_least_deg, separation_usual_deg;
    double shift_most_mm; /* by breathing */
} bk_space_limits;

/**
 * Codes: views_near (under the least separation), views_close (under the usual one), shift_large, views_disagree, diameters_disagree,
 * primary_sign (a view's primary angle fits far better with the other sign), limbs_swapped (distal and side of a view);
 * primary_sign_open, limbs_open where both readings fit alike.
 * The other readings are fitted like the first. Errors: BK_E_LIMIT.
 */
bk_status bk_space_doubts_find(const bk_sight *sight, size_t views, const bk_space_options *options,
                               const bk_space_limits *limits, const bk_space_solid *solid, bk_arena *arena,
                               bk_space_doubts *out, bk_err *err) BK_MUST_CHECK;

#endif
