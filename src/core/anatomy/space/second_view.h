/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a second view may be taken from, when there is one. */
#ifndef BK_CORE_ANATOMY_SPACE_SECOND_VIEW_H
#define BK_CORE_ANATOMY_SPACE_SECOND_VIEW_H

#define BK_SECOND_STEP_DEG 5.0 /* between the rows that are told; positions are tried in steps of 1 degree */
#define BK_SECOND_ROWS 37
#define BK_SECOND_RANGES 4

typedef struct bk_second_place {
    double primary_deg, secondary_deg;
    double apart_deg; /* from the first view */
} bk_second_place;

typedef struct bk_second_row {
    double secondary_deg;
    int n;
    double primary_deg[BK_SECOND_RANGES][2];
} bk_second_row;

typedef struct bk_second_view {
    int n; /* rows; secondary angles rise */
    bk_second_row row[BK_SECOND_ROWS];
    double share_pct;        /* of the positions in reach that serve */
    bk_second_place nearest; /* least turning of the C-arm, both angles added up; found only when share_pct > 0 */
    bk_second_place widest;  /* farthest from the first view */
} bk_second_view;

/** Angle between two lines of sight, 0..90 degrees: opposite directions show the same. */
double bk_views_apart_deg(double primary_a, double secondary_a, double primary_b, double secondary_b);

/**
 * Error of a point along the worst axis, for an error of 1 across the ray in each of two views this far apart:
 * 1/(sqrt 2 sin(apart/2)). Derived here: two planes of sight, orthogonal projection; 2.7 at 30 degrees, 1 at 90.
 */
double bk_views_depth_error(double apart_deg);

/** Positions in reach at least least_deg from the first view. Reach as in bk_views_input, lower limit first. */
void bk_second_view_find(double primary_deg, double secondary_deg, double least_deg, const double primary_reach[2],
                         const double secondary_reach[2], bk_second_view *out);

#endif
