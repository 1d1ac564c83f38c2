/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What one C-arm position shows of a bifurcation in space: how much of each limb's length it loses, and where limbs
   lie over each other. Behind views.h; docs/methods/views.md. */
#ifndef BK_CORE_ANATOMY_SPACE_LOOK_H
#define BK_CORE_ANATOMY_SPACE_LOOK_H

#include "base/status.h"
#include "core/anatomy/space/curve3.h"
#include "core/limb.h"

#define BK_LOOK_PIECES 64     /* a limb is cut into at most so many, a multiple of 8 */
#define BK_LOOK_NEAR_MM 8.0   /* the ostial stretch of a limb: what angles are measured over (contract) */
#define BK_LOOK_PARALLEL 5.0  /* degrees: limbs nearer than this to one line span no plane */

/* A limb as pieces of equal length along its axis; padded with pieces of no length, far away. */
typedef struct bk_look_limb {
    int n, padded;
    float at[3][BK_LOOK_PIECES], along[3][BK_LOOK_PIECES]; /* middle, unit direction */
    float length[BK_LOOK_PIECES], near_length[BK_LOOK_PIECES], radius[BK_LOOK_PIECES];
    float free_length[BK_LOOK_PIECES], near_free[BK_LOOK_PIECES]; /* 0 where the limb is still one with another */
    double total, near_total, free_total, near_free_total;        /* sums of the above [mm] */
    double joined_mm;                                             /* from the branch point to where it is free */
    double direction_sd;                                          /* radians */
    bk_vec axis;                                                  /* unit, from the branch point to the end */
} bk_look_limb;

typedef struct bk_look_scene {
    double sod_mm;
    bk_vec branch_point;
    bk_vec chord[BK_LIMBS]; /* unit, from the branch point to 8 mm along each axis */
    bk_look_limb limb[BK_LIMBS];
    float firm[BK_LIMBS][BK_LOOK_PIECES][BK_LOOK_PIECES]; /* of the pair (i, i+1): 1 / SD of the gap between two pieces */
    float normal_cdf[514];
} bk_look_scene;

/* Shares are 0..1. gap_z: of each piece, the smallest gap to another limb in the picture [SD of that gap]; below 0 it is
   covered. */
typedef struct bk_look {
    double foreshortening[BK_LIMBS], near_foreshortening[BK_LIMBS];
    double foreshortening_sd[BK_LIMBS];
    double covered[BK_LIMBS], near_covered[BK_LIMBS]; /* expected, with the uncertainty of the limbs in it */
    bk_vec ray;                                       /* unit, from the source through the branch point */
    float gap_z[BK_LIMBS][BK_LOOK_PIECES];
} bk_look;

/**
 * Cut the limbs into pieces and find where they are still joined: from the branch point to where the tubes part in
 * space (distance of the axes below the sum of radii).
 * limb: BK_LIMBS of them. sod_mm: source to isocentre.
 * Errors: BK_E_DATA a limb shorter than 2 mm, diameters not above 0, limbs that span no plane, a source within 100 mm.
 */
bk_status bk_look_prepare(const bk_curve3 *limb, double sod_mm, bk_look_scene *out, bk_err *err) BK_MUST_CHECK;

/**
 * Look from a C-arm position. Source: DICOM PS3.3 C.8.7.5.1.2 for the geometry; derived here: the part of a piece across
 * the local ray is seen, the part along it is lost; a rotation w of a limb changes the seen length by w . sum ds
 * (t.r)(t x r)/|t x r|, which gives its SD for turns about the two axes across the limb (with the second order, which
 * remains where the limb lies across the ray).
 * A piece is covered when its axis comes nearer to that of another limb than the sum of radii, all magnified by depth.
 */
void bk_look_at(const bk_look_scene *scene, double primary_deg, double secondary_deg, bk_look *out);

#endif
