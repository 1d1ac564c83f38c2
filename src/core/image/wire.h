/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A guide wire in a vessel, taken out of the picture before the lumen's edges are looked for. */
#ifndef BK_CORE_IMAGE_WIRE_H
#define BK_CORE_IMAGE_WIRE_H

#include "base/arena.h"
#include "base/status.h"
#include "core/image/curve.h"
#include "core/image/lumen.h"

/**
 * Find the thin dark line that runs along an axis and brighten log_image by it.
 *
 * log_image: log intensity, changed in place. axis: within 1.2 mm of the wire all along. wire_mm: its diameter;
 * mm_per_px; psf_sigma_px: the picture's blur.
 * Method: on lines across the axis, the least-squares depth of a line of that width under the blur, a parabola aside; the way
 *         along the limb through the deepest; its depth there, as a median over 4 mm, is added back as that profile. docs/methods/edges.md
 * Where there is no wire, some of the lumen's own darkness is taken: call it where one is known to lie. Errors: BK_E_LIMIT.
 */
bk_status bk_wire_remove(bk_image *log_image, const bk_curve *axis, double wire_mm, double mm_per_px, double psf_sigma_px,
                         bk_arena *arena, bk_err *err) BK_MUST_CHECK;

/**
 * Widen the SDs and the covariance of a limb that edges were followed on after a wire was taken out: the area is known no better than
 * twice the wire's cross-section (on phantoms). Errors: BK_E_LIMIT.
 */
bk_status bk_wire_widen(bk_lumen_limb *limb, double wire_mm, double mm_per_px, bk_arena *arena, bk_err *err) BK_MUST_CHECK;

#endif
