/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The primary beam behind the scene's tubes and the body. */
#ifndef BK_PHANTOM_SHADOW_H
#define BK_PHANTOM_SHADOW_H

#include "base/arena.h"
#include "phantom/scene.h"

#define PH_SHADOW_FINE 4 /* rays a pixel side */

/**
 * Primary intensity of each pixel (1 = no attenuation), blurred and averaged over the pixel.
 *
 * body: attenuation of each pixel, smooth on the scale of a pixel (it is not blurred again away from tubes).
 * Method: PH_SHADOW_FINE^2 rays a pixel, exact paths (path.h), Beer-Lambert, Gaussian blur of the intensity
 * on the fine grid in both directions, mean over the pixel. Errors: BK_E_LIMIT, BK_E_INTERNAL memory.
 */
bk_status ph_shadow(const ph_scene *scene, int view, const ph_moment *moment, const float *body,
                    bk_arena *arena, float *out, bk_err *err) BK_MUST_CHECK;

#endif
