/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The way to a click behind a gap: along the stump of the vessel, then straight on. */
#ifndef BK_CORE_ANATOMY_STUMP_H
#define BK_CORE_ANATOMY_STUMP_H

#include "core/anatomy/route.h"

/**
 * Draw the stretches of a path that lie on no vessel straight, where they wander by more than a part of their length.
 * main_path tells how strong a vessel is; it may be the path itself.
 * Errors: BK_E_LIMIT.
 */
bk_status bk_stump_straighten(const bk_router *router, const bk_path *main_path, bk_path *path, bk_err *err) BK_MUST_CHECK;

/**
 * A path whose last stretch lies on no vessel left the main vessel where that was nearest to the click, or came along a vessel
 * that crosses. Where a vessel ends blind on the way to the click, the path is led through that stump.
 *
 * crosses: the path came off a vessel that crosses the main one.
 * Method  the dark pixels that hang together with the main vessel are flooded from it; of the places where the flood ends, that one
 *         is taken from which the click lies nearest and most nearly straight on, if it beats the path as it is.
 * Source  our own construction; docs/methods/occlusion.md
 * Errors  BK_E_LIMIT
 */
bk_status bk_stump_lead(const bk_router *router, const bk_path *main_path, bool crosses, bk_path *path,
                        bk_err *err) BK_MUST_CHECK;

#endif
