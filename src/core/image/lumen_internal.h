/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files of the lumen fit share. Lengths in px, arc length s along a limb, x across it (positive to the
   left when walking away from the branch, y down). Not for use outside src/core/image and its tests. */
#ifndef BK_CORE_IMAGE_LUMEN_INTERNAL_H
#define BK_CORE_IMAGE_LUMEN_INTERNAL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/arena.h"
#include "core/image/lumen.h"
#include "core/image/lumen_table.h"

/* ---- blurred absorption of a circular lumen (lumen_profile.c) ---- */

/* W = 1 - transmission, blurred, and its derivatives by place, diameter, log of the contrast density and blur. */
typedef struct bk_lumen_profile {
    double w, x, d, m, sigma;
} bk_lumen_profile;

/** Gauss-Legendre nodes and weights on (-pi/2, pi/2) for 16, 32, 64, 128 and 256 points; NULL when the arena refuses. */
const double *bk_lumen_rule_new(bk_arena *arena, bk_err *err) BK_MUST_CHECK;
/** Exact value (quadrature to about 1e-9) at one place; sigma_px > 0, diameter_px > 0. */
bk_lumen_profile bk_lumen_profile_at(const double *rule, double x_px, double diameter_px, double density_per_px,
                                     double sigma_px);
/* One point of the quadrature: where it lies, and its share of W and of its derivatives by diameter and log density;
   d_shift: what dd holds of the first derivative of the Gaussian. */
typedef struct bk_lumen_point {
    double at, w, d, dd, d_shift, m, mm, md;
} bk_lumen_point;

/** Where the rule for a lumen of `ratio` = radius / blur starts: sine, cosine and weight of each of n points. */
const double *bk_lumen_rule_of(const double *rule, double ratio, size_t *n);
bk_lumen_point bk_lumen_point_of(const double *rule, double radius, double density);

/* ---- axis and pixels (lumen_axis.c, lumen_pixels.c) ---- */

#define BK_LUMEN_AXIS_STEP_PX 0.5

/* A smooth axis in steps of BK_LUMEN_AXIS_STEP_PX of arc length from the start axis' origin. */
typedef struct bk_lumen_axis {
    size_t n;
    double *x, *y, *tx, *ty, *bend; /* unit tangent; curvature, positive when it turns towards the normal */
} bk_lumen_axis;

/**
 * Smooth a polyline given at arc lengths s[0..n-1] (rising): cubic spline of knots knot_px apart, by weighted
 * least squares with a weak penalty on its bending, then resampled by its own arc length.
 */
bk_status bk_lumen_axis_smooth(const bk_pt_px *point, const double *weight, size_t n, double knot_px, bk_arena *arena,
                               bk_lumen_axis *out, bk_err *err) BK_MUST_CHECK;
/** Value of a series given in steps of BK_LUMEN_AXIS_STEP_PX, linear between, held beyond the ends. */
double bk_lumen_series_at(const double *series, size_t n, double s_px);

/* The (s, x) of pixels near one axis, on the bounding box of its band. */
typedef struct bk_lumen_map {
    int32_t row0, col0, rows, cols;
    double reach_px;
    float *s, *x; /* s < 0: not near the axis, or beyond its ends */
} bk_lumen_map;

bk_status bk_lumen_map_new(const bk_lumen_axis *axis, double reach_px, int32_t rows, int32_t cols, bk_arena *arena,
                           bk_lumen_map *out, bk_err *err) BK_MUST_CHECK;

/* A pixel of one limb in the penumbra of another, and where it lies beside that one. */
typedef struct bk_lumen_beside {
    size_t pixel, limb;
    float s, x;
} bk_lumen_beside;

/* Pixels of one limb, by cells of s and, within a cell, by |x|. Each cell is filled up to a multiple of BK_V8 with
   places of no weight, whose `at` is -1. */
typedef struct bk_lumen_pixels {
    size_t n, cells;
    size_t *cell_start; /* cells + 1 */
    float *s, *x, *t;   /* t: place within its cell, 0..1 */
    float *s_unit;      /* place along the limb, -1..1 */
    float *value;       /* intensity */
    float *scatter;     /* the image blurred broadly */
    float *lost;        /* what other limbs beside it absorb, 0..1 */
    float *robust;      /* weight 0..1 */
    float *rest;        /* residual / sqrt(expected intensity) of the last pass */
    float *pull;        /* derivative by the diameter / sqrt(expected intensity) */
    int32_t *at;        /* row * image columns + column */
    bk_lumen_beside *beside;
    size_t beside_n;
} bk_lumen_pixels;

/* The image blurred broadly, on a coarse grid: what scatter looks like. */
typedef struct bk_lumen_scatter {
    int32_t rows, cols, each; /* each: pixels to one sample */
    float *mean;
} bk_lumen_scatter;

bk_status bk_lumen_scatter_new(const bk_image *image, const unsigned char *mask, double sigma_px, bk_arena *arena,
                               bk_lumen_scatter *out, bk_err *err) BK_MUST_CHECK;
float bk_lumen_scatter_at(const bk_lumen_scatter *scatter, int32_t row, int32_t col);

/* What decides which pixels a limb uses. */
typedef struct bk_lumen_gather {
    const bk_image *image;
    bk_lumen_scatter blurred; /* of the frame; the image's first pixel is its (row0, col0) */
    int32_t row0, col0;
    const unsigned char *mask; /* may be NULL */
    bk_lumen_axis axis[BK_LUMEN_LIMBS];
    bk_lumen_map map[BK_LUMEN_LIMBS];
    double *diameter[BK_LUMEN_LIMBS]; /* along each axis, in its steps */
    double from_px[BK_LUMEN_LIMBS], to_px[BK_LUMEN_LIMBS], cell_px[BK_LUMEN_LIMBS];
    double beside_px; /* how far beyond the edge */
    double apart_px;  /* how far another limb's penumbra reaches */
    bool share;       /* pixels there are used by the limb whose edge is nearer; else by none */
} bk_lumen_gather;

/** The limb's pixels. */
bk_status bk_lumen_pixels_new(const bk_lumen_gather *gather, size_t limb, bk_arena *arena, bk_lumen_pixels *out,
                              bk_err *err) BK_MUST_CHECK;
/** Those of them whose row and column are multiples of `each`; cols: of the image. */
bk_status bk_lumen_pixels_thin(const bk_lumen_pixels *all, int32_t each, int32_t cols, bk_arena *arena,
                               bk_lumen_pixels *out, bk_err *err) BK_MUST_CHECK;

/* ---- the state of a fit (lumen_model.c, lumen_fit.c) ---- */

#define BK_LUMEN_DENSITY_N 2                   /* log density: mean and slope along the limb */
#define BK_LUMEN_SHARED_N 2                    /* blur, scatter */
#define BK_LUMEN_BORDER_N (BK_LUMEN_DENSITY_N + BK_LUMEN_SHARED_N) /* of one limb */
#define BK_LUMEN_BLUR (BK_LUMEN_LIMBS * BK_LUMEN_DENSITY_N) /* places in the corner */
#define BK_LUMEN_SCATTER (BK_LUMEN_BLUR + 1)
#define BK_LUMEN_CORNER_N (BK_LUMEN_SCATTER + 1)
#define BK_LUMEN_BACKGROUND_N 5                /* log background: 1, x, .. x^4 */
#define BK_LUMEN_CENTRE_CELLS 1                /* cells of the diameter spline to one of the centre spline */
#define BK_LUMEN_BACKGROUND_CELLS 3
#define BK_LUMEN_GROUND_DEGREE 1                     /* of the background's splines along s */
#define BK_LUMEN_GROUND (BK_LUMEN_GROUND_DEGREE + 1) /* coefficients of one that a pixel meets */

/* Unknowns of one limb, along s; coefficient k of a cubic spline of cells of c*h is centred at
   start + (k-1)*c*h, of a linear one at start + k*c*h. */
typedef struct bk_lumen_layout {
    double start_px, cell_px; /* the splines begin at start_px, one cell before the first pixel */
    size_t cells;             /* of the diameter spline, pixels lie in cells 1 .. cells-2 */
    size_t diameter_n, centre_n, background_n; /* coefficients; background: of each of its splines */
    size_t n, band;                            /* unknowns; largest index distance that meets in a pixel */
    size_t *diameter, *centre, *background[BK_LUMEN_BACKGROUND_N]; /* index of each coefficient */
    double window_px; /* x is divided by this in the background */
} bk_lumen_layout;

/* Normal equations of the limbs (banded) with their border and the common corner. */
typedef struct bk_lumen_normal {
    size_t n[BK_LUMEN_LIMBS], band[BK_LUMEN_LIMBS];
    double *a[BK_LUMEN_LIMBS];      /* n x (band + 1): row i holds columns i-band .. i */
    double *border[BK_LUMEN_LIMBS]; /* n x BK_LUMEN_BORDER_N */
    double *right[BK_LUMEN_LIMBS];  /* n */
    double corner[BK_LUMEN_CORNER_N * BK_LUMEN_CORNER_N], corner_right[BK_LUMEN_CORNER_N];
    double gain; /* after a solve: what the step takes off the cost where the model is linear */
} bk_lumen_normal;

/** Factor a symmetric positive definite band matrix in place (lower triangle, A = L L'). False: not positive. */
bool bk_lumen_band_factor(double *a, size_t n, size_t band);
/** y = L^-1 y, and y = L^-T y, for count right sides side by side (n x count). */
void bk_lumen_band_forward(const double *l, size_t n, size_t band, double *y, size_t count);
void bk_lumen_band_back(const double *l, size_t n, size_t band, double *y, size_t count);
/** Index of a limb's border unknown in the corner. */
size_t bk_lumen_corner_index(size_t limb, size_t border);
/**
 * Solve in place: right and corner_right become the solution; a, border (now L^-1 border) and corner hold the
 * factors, for bk_lumen_normal_covariance. False: not positive definite.
 */
bool bk_lumen_normal_solve(bk_lumen_normal *normal);
/** Covariance of the unknowns pick[0..count-1] (rising) of a limb after a solve: out = count x count. work: n x count. */
void bk_lumen_normal_covariance(const bk_lumen_normal *normal, size_t limb, const size_t *pick, size_t count,
                                double *work, double *out);
/** Covariance (corner_n x corner_n) of the corner after a solve. */
void bk_lumen_corner_covariance(const bk_lumen_normal *normal, double *out);

/* Standard deviations of the priors, in px and log units; see docs/methods/lumen.md. */
typedef struct bk_lumen_prior {
    double diameter_bend; /* second difference of neighbouring diameter coefficients */
    double centre_bend, centre;
    double background_bend[BK_LUMEN_BACKGROUND_N], background[BK_LUMEN_BACKGROUND_N];
    double density_slope, density_apart, log_sigma, scatter;
} bk_lumen_prior;

/* What the pixels of a cell meet. */
enum {
    BK_LUMEN_MEET_DIAMETER = 6,
    BK_LUMEN_MEET_CENTRE = 4,
    BK_LUMEN_MEET = BK_LUMEN_MEET_DIAMETER + BK_LUMEN_MEET_CENTRE + BK_LUMEN_GROUND * BK_LUMEN_BACKGROUND_N
};

typedef struct bk_lumen_cell {
    size_t index[BK_LUMEN_MEET]; /* of the unknowns: diameter, centre, background */
    float value[BK_LUMEN_MEET];  /* of them at present */
    float centre_at, ground_at;  /* the cell's place within a cell of those splines */
    float reach;                 /* of the points along the limb, in cells */
    float far;                   /* the lumen does not show beyond */
    float per_sigma, per_window, density, density_slope, bend, scatter, per_gain; /* density: log, less the table's */
    bool rough;
    bk_lumen_table *table;
} bk_lumen_cell;

/* Derivatives of a cell's pixels by each unknown, one row an unknown; the lumen's own come first. */
enum {
    BK_LUMEN_ROW_DENSITY = BK_LUMEN_MEET_DIAMETER + BK_LUMEN_MEET_CENTRE,
    BK_LUMEN_ROW_BLUR = BK_LUMEN_ROW_DENSITY + BK_LUMEN_DENSITY_N,
    BK_LUMEN_ROW_GROUND,
    BK_LUMEN_ROW_SCATTER = BK_LUMEN_ROW_GROUND + BK_LUMEN_GROUND * BK_LUMEN_BACKGROUND_N,
    BK_LUMEN_ROW_REST,
    BK_LUMEN_ROWS_USED,
    BK_LUMEN_ROWS = (BK_LUMEN_ROWS_USED + 2) / 3 * 3,
    BK_LUMEN_COLUMNS = 128 /* pixels at a time */
};

typedef struct bk_lumen_rows {
    size_t n, near; /* pixels; those from `near` on do not see the lumen */
    double cost;    /* summed over calls */
    float weight[BK_LUMEN_COLUMNS];
    float row[BK_LUMEN_ROWS][BK_LUMEN_COLUMNS];
} bk_lumen_rows;

typedef struct bk_lumen_state {
    bk_lumen_layout layout[BK_LUMEN_LIMBS];
    bk_lumen_rows *rows; /* work space */
    bk_lumen_pool pool;
    bk_lumen_table table[BK_LUMEN_LIMBS], *table_of[BK_LUMEN_LIMBS]; /* limbs of like density share one */
    double *unknown[BK_LUMEN_LIMBS];
    double *corner[BK_LUMEN_LIMBS]; /* by how much the prior on each bend of the diameter holds, 0..1 */
    double density[BK_LUMEN_LIMBS][BK_LUMEN_DENSITY_N]; /* log density per px: middle, slope to either end */
    double log_sigma, log_sigma_start;
    double gain;      /* variance / expected intensity, as the priors are weighed against */
    double scatter, scatter_start;   /* fraction */
    double bend_px;   /* diameters below are bent so that they stay positive */
    bk_lumen_prior prior;
    bool rough;       /* leave out the blur along the limb: for the first rounds */
} bk_lumen_state;

/** Diameter that a spline value stands for, and its derivative: the value itself above bend_px, positive below. */
double bk_lumen_bent(double value, double bend_px, double *slope);
/** The four cubic B-spline values at t in [0,1] of a cell. */
void bk_lumen_bspline(double t, double value[4]);
/** Value of a spline of the limb: cells_each cells of the layout to one of the spline. */
double bk_lumen_spline_at(const bk_lumen_layout *layout, const double *unknown, const size_t *index, size_t count,
                          size_t cells_each, double s_px);
void bk_lumen_cell_begin(bk_lumen_cell *cell, bk_lumen_state *state, size_t limb, size_t number);
/** Rows of the pixels from .. to - 1 of the cell (a multiple of BK_V8, at most BK_LUMEN_COLUMNS), not yet weighed;
    sets rest and pull of the pixels. */
void bk_lumen_cell_rows(const bk_lumen_cell *cell, bk_lumen_pixels *pixels, size_t from, size_t to,
                        bk_lumen_rows *rows);
/** Rests of one limb; adds its normal equations unless normal is NULL. Returns its weighted squares. */
double bk_lumen_limb_rest(bk_lumen_state *state, size_t limb, bk_lumen_pixels *pixels, bk_lumen_normal *normal);
/** Fill the normal equations of all limbs at the present state; returns the cost (weighted squares plus priors). */
double bk_lumen_model_normal(bk_lumen_state *state, bk_lumen_pixels *pixels, bk_lumen_normal *normal);

/** What the other limbs absorb at present, at each of the limb's pixels (lumen_beside.c). */
void bk_lumen_limb_lost(bk_lumen_state *state, bk_lumen_pixels *pixels);

#define BK_LUMEN_LAG 4 /* px: how far residuals are looked at for correlation */

/* ---- noise (lumen_noise.c) ---- */

/** Robust scale squared of rest over pixels in use: variance / expected intensity, at least `floor`. work: all pixels of
    the limbs. */
double bk_lumen_noise_gain(const bk_lumen_pixels *pixels, double floor, double *work);

typedef struct bk_lumen_looks {
    double gain, mm_per_px;
    int32_t cols; /* of the image */
} bk_lumen_looks;

/** Weights of a limb's pixels from their rests (lumen_robust.c). work: one value a pixel, 6 per 0.25 mm and 3 per
    BK_LUMEN_AXIS_STEP_PX of the limb; field: as below. */
void bk_lumen_robust_weights(const bk_lumen_state *state, size_t limb, bk_lumen_pixels *pixels,
                             const bk_lumen_looks *looks, double *work, float *field);
/* work: as large as the image with BK_LUMEN_LAG rows more on either side, all 0 before and after. */
/** How many times more variance the diameters have than white noise would give, from the correlation of rests; at
    least 1. unknowns: how many the limb's fit has. */
double bk_lumen_noise_inflation(const bk_lumen_pixels *pixels, size_t unknowns, int32_t image_cols, float *work);
/** How many times more SD again, at each of the limb's knots of the diameter, where the model misses what the pixels
    show; at least 1. gain: variance / expected intensity; inflation: what the above says. */
void bk_lumen_noise_misfit(const bk_lumen_pixels *pixels, double gain, double sigma_px, double inflation, size_t knots,
                           double *factor);


/* ---- tight throats (lumen_throat.c) ---- */

/** Where the limb seems to close, look for its lumen afresh and put it into the state; *found: it does seem so.
    The pixels there get their full weight again. */
bk_status bk_lumen_throat_look(bk_lumen_state *state, size_t limb, bk_lumen_pixels *pixels, double mm_per_px,
                               bk_arena *arena, bool *found, bk_err *err) BK_MUST_CHECK;

/* ---- results (lumen_output.c) ---- */

/** Fill the fitted limb from the state and its solved normal equations. inflation: of the variance by the noise;
    misfit: of the SD of each knot of the diameter. */
bk_status bk_lumen_limb_fill(bk_lumen_state *state, const bk_lumen_normal *normal, size_t limb, const bk_lumen_axis *axis,
                             double step_px, double first_px, double inflation, const double *misfit, bk_arena *arena,
                             bk_lumen_limb *out, bk_err *err) BK_MUST_CHECK;

#endif
