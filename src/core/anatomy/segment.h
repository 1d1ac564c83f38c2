/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The numbers of one limb from its fitted diameter curve. */
#ifndef BK_CORE_ANATOMY_SEGMENT_H
#define BK_CORE_ANATOMY_SEGMENT_H

#include "core/anatomy/bifurcation.h"
#include "core/anatomy/reference.h"

typedef struct bk_segment_input {
    const bk_lumen_limb *limb;
    double origin_px;       /* arc length of the limb's sample 0 from the branch point */
    double ostium_px;       /* arc length of the ostium from the branch point */
    double mm_per_px;
    int limb_index;
    const bk_corrections *corrections; /* exclusions and a forced reference; NULL: none */
    const bool *drawn;                 /* samples of the limb with an edge drawn by hand; NULL: none */
    bool occluded;                     /* the limb is a stump: its lumen ends with its last sample */
    double shared_mm;                  /* of vessel, over which the scatter about the reference is shared */
} bk_segment_input;

/* A smaller lumen than the MLD in an excluded stretch. */
typedef struct bk_hidden_mld {
    bk_qty mld_mm;
    double position_mm;
} bk_hidden_mld;

/**
 * Reference, MLD, stenosis, lesion and profile of a limb from its ostium to its click; see the contract's
 * definitions. reference (may be NULL) receives the fitted line, counted from the limb's first profile sample.
 * hidden: the smallest lumen, where an exclusion hides it; else its mld_mm is absent.
 * Errors: BK_E_NOTHING too short; BK_E_USAGE or BK_E_DATA exclusions leave nothing; BK_E_LIMIT.
 */
bk_status bk_segment_measure(const bk_segment_input *input, bk_arena *arena, bk_segment *out, bk_reference *reference,
                             bk_hidden_mld *hidden, bk_err *err) BK_MUST_CHECK;

/** A limb whose lumen stops so near the core that none is measured: no profile, no reference of its own. */
void bk_segment_absent(double ostium_mm, double stop_mm, bk_segment *out);

#endif
