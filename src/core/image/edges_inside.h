/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of the edge finder share. */
#ifndef BK_CORE_IMAGE_EDGES_INSIDE_H
#define BK_CORE_IMAGE_EDGES_INSIDE_H

#include "core/image/edges.h"

#define BK_EDGE_SMOOTH_MM 0.25 /* SD of the average along the vessel */

/* Scan lines: n lines of m samples; sample j lies (j - middle) * step_px along the normal. */
typedef struct bk_edge_lines {
    size_t n, m, middle;
    double step_px;
    float *value; /* n x m */
} bk_edge_lines;

typedef struct bk_edge_finder {
    const bk_image *image;
    const bk_edge_options *options;
    bk_curve axis;
    bk_pt_px *normal;
    const double *radius_px;
    bk_edge_lines lines;
    float *rise;            /* n x reach: rise of each line per px, walking outwards on the side that is looked at */
    double *left, *right;   /* offsets of the edges from the axis, both >= 0 [px] */
    double psf_px;          /* blur of the lines: the image's own and what they were smoothed by */
    double *strength;       /* steepness of the weaker edge */
} bk_edge_finder;

/** Sample of the edge on every line of one side, +1 along the normal: the cheapest contour through steep rises that has dark
    within and bright outside. f->rise must hold that side. typical: steepness that edges of this limb have; scratch: n. */
bk_status bk_edges_trace(const bk_edge_finder *f, int side, double typical, double *scratch, bk_arena *arena, ptrdiff_t *edge,
                         bk_err *err) BK_MUST_CHECK;

/** Where the middle of the dark lies on every line, px along the normal: the way to a click may cut a corner, and an axis beside a
    narrow throat has both its edges on one side. 0 where the outside is not known. offset_px, scratch: n. */
bk_status bk_edges_dark_middle(const bk_edge_finder *f, double *scratch, bk_arena *arena, double *offset_px, bk_err *err) BK_MUST_CHECK;

/** Steepest rise per px of a line on the side that f->rise holds, within the reach of the limb. */
double bk_edges_steepest(const bk_edge_finder *f, size_t line);
/** Samples from the axis within which the edge of a line is looked for. */
ptrdiff_t bk_edges_reach(const bk_edge_finder *f, size_t line);

/** Smooth diameter curve through the distances between the edges; out: n samples, see bk_edges_follow. */
bk_status bk_edges_fit_widths(const bk_edge_finder *f, bk_arena *arena, bk_lumen_limb *out, bk_err *err) BK_MUST_CHECK;

#endif
