/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The cross-section of a lumen from the widths that several views see. */
#ifndef BK_CORE_ANATOMY_SPACE_SECTION_H
#define BK_CORE_ANATOMY_SPACE_SECTION_H

#include <stddef.h>

#include "core/anatomy/space/vec.h"

#define BK_SECTION_ELLIPSE_DEG 40.0 /* views that far apart around the vessel tell its long axis from its short one */
#define BK_SECTION_UNROUND 0.15     /* SD of (a^2 - b^2) / (a^2 + b^2) of lumens, before they are seen: ours */

typedef struct bk_section_width {
    double diameter_mm, sd_mm;
    double angle_rad; /* direction in which it is measured, in the plane of the section; any common zero */
} bk_section_width;

typedef struct bk_section {
    double minor_mm, major_mm; /* equal when the views are too near to each other to tell */
    double diameter_mm;        /* of the circle of the same area */
    double sd_mm;              /* of it, if the lumen is as round as it looks: noise, and how far the widths disagree */
    double disagreement;       /* of the widths, root mean square in SD */
    double unround;            /* relative SD of the area besides, from what no view shows */
    double spread_deg;         /* largest angle between two widths, 0..90 */
} bk_section;

/**
 * Half the width of an ellipse in direction f is the root of p + q cos 2f + r sin 2f. p, q, r by least squares, q and r
 * with a prior of BK_SECTION_UNROUND p about 0 (two widths do not determine three numbers).
 * Requires n >= 1, positive widths and SDs. Source: support function of an ellipse.
 */
bk_section bk_section_of(const bk_section_width *width, size_t n);

/** Direction in which a view measures the width of a vessel: across its axis and the ray; as an angle in the plane
    across the tangent, counted from a reference that only depends on the tangent. */
double bk_section_angle(bk_vec tangent, bk_vec ray);

#endif
