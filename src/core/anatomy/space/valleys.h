/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The valleys of a field on a grid: local minima that a ridge parts from every lower one. */
#ifndef BK_CORE_ANATOMY_SPACE_VALLEYS_H
#define BK_CORE_ANATOMY_SPACE_VALLEYS_H

#include <stddef.h>

#include "base/arena.h"

/**
 * Bottoms of the valleys, deepest first, at most max of them. A valley counts when its bottom lies at least `ridge`
 * below the lowest pass to a deeper valley (topographic prominence); the deepest always counts. Neighbours are the
 * eight around a cell; equal heights are told apart by their index.
 * height: rows x cols, row-major, finite. bottom: room for max. *n: how many there were.
 * Method: cells are flooded from the lowest up and joined (union-find). Errors: BK_E_LIMIT the arena's cap.
 */
bk_status bk_valleys(const float *height, int rows, int cols, double ridge, bk_arena *arena, int *bottom, int max, int *n,
                     bk_err *err) BK_MUST_CHECK;

#endif
