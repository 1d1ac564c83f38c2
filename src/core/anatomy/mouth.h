/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A third branch that leaves a limb. */
#ifndef BK_CORE_ANATOMY_MOUTH_H
#define BK_CORE_ANATOMY_MOUTH_H

#include "core/image/lumen.h"

typedef struct bk_mouth {
    size_t from, to; /* samples of the limb, from <= to */
    double size_px;  /* length of vessel wall that is missing: the branch's diameter or more, by its angle */
} bk_mouth;

/**
 * The largest mouth of a sizable branch along a limb: a stretch beside which, on one side only, it is dark right from the wall
 * outwards, for half a diameter of the limb or more. What is dark on both sides crosses.
 * log_image: log intensity; limb: fitted; first: sample from which no other limb of the bifurcation lies beside it; mm_per_px.
 * false: none was found. Method and limits: docs/methods/lumen.md. Errors: BK_E_LIMIT.
 */
bk_status bk_mouth_find(const bk_image *log_image, const bk_lumen_limb *limb, size_t first, double mm_per_px, bk_arena *arena,
                        bool *found, bk_mouth *out, bk_err *err) BK_MUST_CHECK;

#endif
