/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a ray runs inside a union of tubes. */
#ifndef BK_PHANTOM_PATH_H
#define BK_PHANTOM_PATH_H

#include "phantom/tube.h"

#define PH_BUNDLE_TUBES 2
#define PH_PATH_PIECES 6

/* Tubes that form one lumen, rounded where they meet (blend_mm: width of the rounding, 0 = none). */
typedef struct ph_bundle {
    const ph_tube *tube[PH_BUNDLE_TUBES];
    int n;
    double blend_mm;
} ph_bundle;

/* The stretch of each tube that may be met; low > high: not at all. */
typedef struct ph_reach {
    double low_mm[PH_BUNDLE_TUBES], high_mm[PH_BUNDLE_TUBES];
} ph_reach;

typedef struct ph_ray {
    ph_vec from, way; /* way has unit length */
} ph_ray;

typedef struct ph_place {
    int tube;    /* the one whose wall is nearest, or that is deepest inside */
    double s_mm; /* arc length on it */
} ph_place;

typedef struct ph_piece {
    double in_mm, out_mm; /* distances along the ray */
    ph_place at[3];       /* at the entry, half way, at the exit */
} ph_piece;

/**
 * Pieces of the ray inside the bundle, in order; returns how many.
 *
 * Method: step along the ray by a part of the level (a bound of the distance to the wall), bracket each
 * change of sign and refine it to 1e-5 mm; where the level touches zero between two steps, its parabola is
 * asked.
 */
int ph_path_pieces(const ph_bundle *bundle, const ph_reach *reach, ph_ray ray, ph_piece out[PH_PATH_PIECES]);

/** Length [mm] of the ray inside the bundle. */
double ph_path_length_mm(const ph_bundle *bundle, const ph_reach *reach, ph_ray ray);

/** The whole of every tube. */
ph_reach ph_reach_all(const ph_bundle *bundle);

/** Smallest level along the ray within half_mm of middle_mm: negative where the ray meets the lumen, and near
   its outline about the distance to it [mm, at that depth]. */
double ph_path_least_level(const ph_bundle *bundle, ph_ray ray, double middle_mm, double half_mm);

#endif
