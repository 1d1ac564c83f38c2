/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How wide a tube must be for round things that lie in it side by side. docs/methods/fit.md */
#ifndef BK_CORE_PLAN_PACKING_H
#define BK_CORE_PLAN_PACKING_H

#include <stddef.h>

#define BK_PACKING_MAX 9

/**
 * Smallest inner diameter of a tube that takes n rigid circles side by side.
 *
 * Units   mm, diameters; n 1..BK_PACKING_MAX, all > 0
 * Method  every circle touches the wall. At radius R two of them are at least
 *         theta = acos(((R-a)^2 + (R-b)^2 - (a+b)^2) / (2 (R-a)(R-b))) apart as seen from the middle; for
 * each cyclic order the earliest places that keep all pairs apart are tried, and R is halved down. For two
 * circles this is d1 + d2, for three that touch one another the circle of Descartes. Exact for n <= 4
 * (against a free search: validation/check_packing.py); above that an upper bound, since a thin one could lie
 * in the middle. Source  none: plane geometry
 */
double bk_packing_diameter(const double *diameters_mm, size_t n);

/** The same with the middles of the circles [mm], from the middle of the tube; places_mm may be NULL. */
double bk_packing_place(const double *diameters_mm, size_t n, double places_mm[][2]);

#endif
