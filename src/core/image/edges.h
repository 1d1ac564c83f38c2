/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lumen edges on scan lines across a vessel, and the correction for blur. The fall-back where intensities cannot
   be modelled, and the start of the model fit where they can. */
#ifndef BK_CORE_IMAGE_EDGES_H
#define BK_CORE_IMAGE_EDGES_H

#include <stdbool.h>

#include "core/image/curve.h"
#include "core/image/lumen.h"

/* ---- blur: what edges of a blurred round lumen read ---- */

/**
 * Widths that the derivatives of a blurred lumen profile give: the distance between the steepest points
 * (*first) and between the outer points of strongest bending (*second), for a lumen of diameter d blurred by
 * a Gaussian of standard deviation 1 (same unit). Weak contrast: the profile is the chord itself.
 * Source: our computation; checked against the table in docs/methods/edges.md.
 */
void bk_edge_widths(double d, double *first, double *second);

#define BK_EDGE_TABLE_N 60
typedef struct bk_edge_table {
    double read[BK_EDGE_TABLE_N]; /* mean of both widths for lumens of 0.2 to 26 sigma, in sigma */
} bk_edge_table;

void bk_edge_table_fill(bk_edge_table *table);
/** True diameter for a width read between edges, both in px, blur sigma_px. 0 when the width is that of blur alone. */
double bk_edge_unblur(const bk_edge_table *table, double width_px, double sigma_px);

/* ---- edges along a vessel ---- */

typedef struct bk_edge_options {
    double mm_per_px;    /* sets smoothing along the vessel and the spline's knots */
    double psf_sigma_px; /* blur of the image itself */
    const bk_edge_table *table; /* filled by bk_edge_table_fill */
    size_t trusted_from; /* first sample whose scan line crosses this vessel alone */
    size_t outside_from; /* first sample beside which on both sides lies the outside and no other limb: from there on dark
                            and bright tell an edge too; n or more: nowhere */
    bool quick;          /* only a start for a fit is wanted: half the samples on a line, two rounds for three */
} bk_edge_options;

/**
 * Find both edges along an axis, re-centre the axis between them, and repeat.
 *
 * log_image: log intensity, dark lumen. axis: within about 3 px of the middle; radius_px: n rough radii.
 * out: filled as by the model fit (diameter spline with covariance); density and contrast are 0.
 * Method: scan lines every step of the axis; minimum-cost contour through the steepest descent on each side
 *         (dynamic programming) that also parts dark from bright; width = mean of first- and second-derivative widths,
 *         corrected for blur by the table. docs/methods/edges.md
 * Errors: BK_E_NOTHING when no edge is found; BK_E_LIMIT.
 */
bk_status bk_edges_follow(const bk_image *log_image, const bk_curve *axis, const double *radius_px,
                          const bk_edge_options *options, bk_arena *arena, bk_lumen_limb *out,
                          bk_err *err) BK_MUST_CHECK;

#endif
