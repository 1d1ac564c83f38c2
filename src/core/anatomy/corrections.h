/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a person says about a measurement: docs/methods/corrections.md. Places in px of the original frame or in mm
   from the branch point, as results give them. Members are named like the keys of the JSON shape. */
#ifndef BK_CORE_ANATOMY_CORRECTIONS_H
#define BK_CORE_ANATOMY_CORRECTIONS_H

#include <stdbool.h>
#include <stdint.h>

#include "base/evidence.h"
#include "base/field.h"
#include "core/image/lumen.h"
#include "core/limb.h"

/* `limb` members count from 1 (bk_limb + 1), so that 0 can mean "not said". */

typedef struct bk_way_point {
    int limb;
    double x_px, y_px;
} bk_way_point;

enum { BK_EDGE_LEFT = 1, BK_EDGE_RIGHT }; /* walking away from the branch point, y down */

typedef struct bk_drawn_edge {
    int limb, side;
    bk_list x_px, y_px; /* doubles: the corners of a polyline */
} bk_drawn_edge;

typedef struct bk_exclusion {
    int limb;
    double from_mm, to_mm;
} bk_exclusion;

typedef struct bk_forced_reference {
    int limb;
    bk_qty reference_mm;
} bk_forced_reference;

typedef struct bk_swap {
    int limb, with;
} bk_swap;

typedef struct bk_corrections {
    bk_list via;       /* bk_way_point; those of a limb in order, from the branching outwards */
    bk_list edge;      /* bk_drawn_edge */
    bk_list exclude;   /* bk_exclusion */
    bk_list reference; /* bk_forced_reference, at most one a limb */
    bk_list swap;      /* bk_swap, carried out in order, before everything else */
    bk_status blame;   /* status of an error in what was said: BK_E_USAGE or BK_E_DATA; BK_OK counts as BK_E_USAGE */
} bk_corrections;

#define BK_VIA_MAX 16 /* way-points of a limb */

bk_status bk_corrections_blame(const bk_corrections *c);

/** Limbs named, places inside the frame, stretches and polylines that are some. Errors: blame. */
bk_status bk_corrections_check(const bk_corrections *c, int32_t rows, int32_t cols, bk_err *err) BK_MUST_CHECK;

/** Let the clicks of swapped limbs change places. */
void bk_corrections_swap(const bk_corrections *c, bk_pt_px click[BK_LIMBS]);

/** The same corrections with every place moved by (dx, dy) px; lists without places are shared. */
bk_status bk_corrections_move(const bk_corrections *c, double dx, double dy, bk_arena *arena, bk_corrections *out,
                              bk_err *err) BK_MUST_CHECK;

/** Way-points of a limb into out (room for most); returns how many there are. */
size_t bk_corrections_via(const bk_corrections *c, int limb, bk_pt_px *out, size_t most);

/** Is a position of a limb in an excluded stretch? */
bool bk_corrections_excluded(const bk_corrections *c, int limb, double position_mm);

/** Was an edge of this limb drawn? */
bool bk_corrections_draws(const bk_corrections *c, int limb);

/** The reference forced upon a limb; absent when none is. */
bk_qty bk_corrections_reference(const bk_corrections *c, int limb);

/**
 * Put drawn edges in the place of the fitted ones.
 *
 * Where the polyline crosses a sample's scan line, that edge is the crossing; the other edge stays (or is the other
 * drawn one), the axis moves to their middle. drawn: n, true at changed samples; NULL comes back when no edge of
 * this limb was drawn. SD: evidence row drawn_edge_sd an edge; a fitted edge that stays has the diameter's SD over sqrt 2.
 * Errors: blame: an edge that lies more than two diameters from the axis, covers no sample, or crosses the other
 *         edge; BK_E_LIMIT.
 */
bk_status bk_corrections_draw(const bk_corrections *c, int limb_index, bk_lumen_limb *limb,
                              const bk_evidence_set *evidence, bk_arena *arena, bool **drawn, bk_err *err) BK_MUST_CHECK;

#endif
