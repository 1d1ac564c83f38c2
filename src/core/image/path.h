/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cheapest paths over a cost image. */
#ifndef BK_CORE_IMAGE_PATH_H
#define BK_CORE_IMAGE_PATH_H

#include "base/arena.h"
#include "base/status.h"
#include "core/image/image.h"

typedef struct bk_path {
    bk_pt_px *points; /* from its source to the target, 8-connected pixel centres */
    size_t n;
    double mean_cost; /* per px of length */
} bk_path;

/**
 * Path of least summed cost from any of the sources to the target.
 *
 * cost: per px of length, 1..100 (clipped); infinite = no way through. sources, target: inside the image.
 * Method: Dijkstra over 8 neighbours with a ring of buckets (costs in 1/16); stops when the target is settled.
 *         O(pixels). Lengths along other than the eight directions read up to 8 % long, which the later
 *         refinement of the axis removes.
 * Errors: BK_E_NOTHING the target cannot be reached; BK_E_LIMIT.
 */
bk_status bk_path_trace(const bk_image *cost, const bk_pt_px *sources, size_t sources_n, bk_pt_px target,
                        bk_arena *arena, bk_path *out, bk_err *err) BK_MUST_CHECK;

#endif
