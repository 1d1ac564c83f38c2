/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What one measured view says of a bifurcation, as far as space needs it. */
#ifndef BK_CORE_ANATOMY_SPACE_SIGHT_H
#define BK_CORE_ANATOMY_SPACE_SIGHT_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/qty.h"
#include "core/anatomy/space/carm.h"
#include "core/limb.h"

#define BK_SIGHTS_MIN 2
#define BK_SIGHTS_MAX 6

/* A limb from the branch point outwards; samples before `first` lie in the core and carry no diameter. */
typedef struct bk_sight_limb {
    size_t n, first;
    bk_pt_px *axis;                             /* n; the first is the branch point */
    double *arc_px;                             /* n: arc length */
    double *diameter_px, *sd_px, *reference_px; /* n; before `first` those at `first` */
    double mld_sd_px, reference_sd_px;
    bool occluded;
} bk_sight_limb;

typedef struct bk_sight {
    bk_carm carm;
    double branch_sd_px;
    bk_sight_limb limb[BK_LIMBS];
} bk_sight;

/* A limb as a measurement document lists it: samples from the ostium outwards, n of each, sizes in mm at mm_per_px. */
typedef struct bk_sight_profile {
    size_t n;
    const double *x_px, *y_px, *diameter_mm, *sd_mm, *reference_mm;
    double mm_per_px, mld_sd_mm, reference_sd_mm;
    bool occluded;
} bk_sight_profile;

/** The limb from the branch point on: the way through the core is a straight line. Errors: BK_E_DATA fewer than two
    samples; BK_E_LIMIT. */
bk_status bk_sight_limb_new(bk_pt_px branch, const bk_sight_profile *profile, bk_arena *arena, bk_sight_limb *out,
                            bk_err *err) BK_MUST_CHECK;

/** Linear interpolation of a series of the limb at an arc length, held beyond its ends. */
double bk_sight_at(const bk_sight_limb *limb, const double *series, double arc_px);
/** The point of the axis there, and its unit tangent. */
bk_pt_px bk_sight_point(const bk_sight_limb *limb, double arc_px, bk_pt_px *tangent);
/** Arc length of the axis point nearest to p, looked for within reach_px of near_px. */
double bk_sight_foot(const bk_sight_limb *limb, bk_pt_px p, double near_px, double reach_px);
/** Arc length of the last sample. */
static inline double bk_sight_length(const bk_sight_limb *limb)
{
    return limb->n > 0 ? limb->arc_px[limb->n - 1] : 0;
}

#endif
