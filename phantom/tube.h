/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A tube in space: a smooth axis carrying circular or elliptic sections, tabulated so finely (0.05 mm) that
   straight interpolation between nodes is exact to about 1e-4 mm. The tube ends in half spheres. */
#ifndef BK_PHANTOM_TUBE_H
#define BK_PHANTOM_TUBE_H

#include <stddef.h>

#include "base/arena.h"
#include "phantom/vec.h"

#define PH_TUBE_STEP_MM 0.05

typedef struct ph_tube_node {
    ph_vec c, t, k;            /* axis point, unit tangent, curvature vector [1/mm] */
    ph_vec n, b;               /* unit normals, carried along without twist */
    double radius_mm;          /* of the circle with the area of the section */
    double healthy_mm;         /* the same without lesions */
    double off_n_mm, off_b_mm; /* centre of the section, from the axis along n and b */
    double stretch;            /* semi-axes are radius x stretch and radius / stretch */
    double cos_e, sin_e;       /* direction of the first semi-axis in (n, b) */
} ph_tube_node;

typedef struct ph_tube {
    ph_tube_node *node;
    size_t n;
    double first_mm; /* arc length of node 0; the last is first + (n - 1) step */
} ph_tube;

/** Curvature components [1/mm] along n and b at arc length s. */
typedef void (*ph_tube_bend)(const void *context, double s_mm, double k[2]);

typedef struct ph_tube_start {
    ph_vec c, t, n;           /* where arc length is 0; n need not be exactly normal to t */
    double first_mm, last_mm; /* first <= 0 <= last */
    ph_tube_bend bend;
    const void *context;
} ph_tube_start;

/** Lay the axis by walking from arc length 0 both ways; sections are round, radius 0. */
bk_status ph_tube_lay(const ph_tube_start *start, bk_arena *arena, ph_tube *out, bk_err *err) BK_MUST_CHECK;

/** Lay a tube of one radius through n points no more than 0.2 mm apart; arc length counts from the first. */
bk_status ph_tube_through(const ph_vec *points, size_t n, double radius_mm, bk_arena *arena, ph_tube *out,
                          bk_err *err) BK_MUST_CHECK;

double ph_tube_last_mm(const ph_tube *tube);

/** Everything at an arc length, clamped to the tube's ends. */
ph_tube_node ph_tube_at(const ph_tube *tube, double s_mm);

/** Centre of the section at an arc length. */
ph_vec ph_tube_centre(const ph_tube *tube, double s_mm);

/** Width of the section [mm] across the axis as seen along the unit direction ray. */
double ph_tube_width_mm(const ph_tube_node *node, ph_vec ray);

/**
 * Level of a point: 0 on the wall, negative inside, near the wall the distance [mm] to it (exact for a round
 * tube of one radius). *s_mm: the arc length of the foot point, within about 0.5 mm on entry, one Newton step
 * nearer on return: ask again at the same point for the last 0.003 mm of level on a steep shoulder.
 */
double ph_tube_level(const ph_tube *tube, ph_vec p, double *s_mm);

#endif
