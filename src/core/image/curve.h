/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plane curves as points at equal arc length. */
#ifndef BK_CORE_IMAGE_CURVE_H
#define BK_CORE_IMAGE_CURVE_H

#include "base/arena.h"
#include "base/status.h"
#include "core/image/image.h"

typedef struct bk_curve {
    bk_pt_px *points;
    size_t n;
    double step_px; /* arc length between neighbours */
} bk_curve;

/** Arc length of a polyline [px]. */
double bk_curve_length(const bk_pt_px *points, size_t n);

/**
 * Points at equal arc length, about step_px apart (adjusted so that both ends are kept), linear in between.
 * n >= 2. Errors: BK_E_NOTHING when the length is under one step; BK_E_LIMIT.
 */
bk_status bk_curve_resample(const bk_pt_px *points, size_t n, double step_px, bk_arena *arena, bk_curve *out,
                            bk_err *err) BK_MUST_CHECK;

/** Smooth by a Gaussian of sigma_px arc length; the ends stay (the curve is continued by point reflection). */
bk_status bk_curve_smooth(bk_curve *curve, double sigma_px, bk_arena *arena, bk_err *err) BK_MUST_CHECK;

/** Distance from p to a polyline [px]; infinite when n is 0. */
double bk_curve_distance(const bk_pt_px *points, size_t n, bk_pt_px p);

/** Unit normals, to the left when walking along the curve with y pointing down: (t.y, -t.x). */
void bk_curve_normals(const bk_curve *curve, bk_pt_px *normals);

static inline double bk_px_distance(bk_pt_px a, bk_pt_px b)
{
    const double dx = a.x - b.x, dy = a.y - b.y;
    return __builtin_sqrt(dx * dx + dy * dy);
}

#endif
