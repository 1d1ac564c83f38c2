/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Paths along vessels: cheapest, but round no corner that a crossing vessel offers, and through way-points. */
#ifndef BK_CORE_ANATOMY_ROUTE_H
#define BK_CORE_ANATOMY_ROUTE_H

#include <stdbool.h>

#include "core/image/path.h"

#define BK_ROUTE_STOPS_MAX 34 /* two clicks and BK_VIA_MAX way-points of two limbs */

typedef struct bk_router {
    bk_image *cost;
    double mm_per_px;
    bk_arena *arena;
    bool lead; /* a side branch whose path comes over no vessel, or off one that crosses, may be led through a stump */
} bk_router;

/* The main vessel from the proximal click to the distal one, and the part of it that a side branch may leave from. */
typedef struct bk_route {
    bk_path path;
    size_t from, to; /* points between the last way-point of the proximal limb and the first of the distal one */
} bk_route;

/**
 * Path through stops[0..n-1] in order. before: how many of the stops, from the first, belong to the limb before the
 * branching. Errors as bk_path_trace.
 */
bk_status bk_route_main(const bk_router *router, const bk_pt_px *stops, size_t n, size_t before, bk_route *out,
                        bk_err *err) BK_MUST_CHECK;

/**
 * Path that leaves the main vessel and goes through stops[0..n-1]; *parting: the point of the main path nearest to
 * where it leaves. Not within clear_mm of the clicks at the ends of the main path. Closes the pixels around both ends of the main path (changes the costs).
 */
bk_status bk_route_side(const bk_router *router, const bk_route *along, const bk_pt_px *stops, size_t n,
                        double clear_mm, bk_path *out, size_t *parting, bk_err *err) BK_MUST_CHECK;

#endif
