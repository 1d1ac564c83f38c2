/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Digital angiograms of a coronary bifurcation whose truth is known from the geometry they were made of.
   Nothing here knows how anything is measured. Method and limits: docs/methods/phantom.md.
   Same options, same bytes. */
#ifndef BK_PHANTOM_PHANTOM_H
#define BK_PHANTOM_PHANTOM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/json.h"
#include "base/status.h"

typedef struct bk_phantom bk_phantom;

enum { BK_PHANTOM_PROXIMAL = 0, BK_PHANTOM_DISTAL, BK_PHANTOM_SIDE, BK_PHANTOM_LIMBS };

typedef enum bk_phantom_curve {
    BK_PHANTOM_CURVE_LINEAR = 0,
    BK_PHANTOM_CURVE_LOG,
    BK_PHANTOM_CURVE_DISPLAY
} bk_phantom_curve;

/* Attributes the writer is to leave out. */
enum {
    BK_PHANTOM_MISSING_SID = 1,
    BK_PHANTOM_MISSING_SOD = 2,
    BK_PHANTOM_MISSING_SPACING = 4,
    BK_PHANTOM_MISSING_ANGLES = 8,
    BK_PHANTOM_MISSING_INTENSITY = 16
};

#define BK_PHANTOM_FRAMES_MAX 200

typedef struct bk_phantom_options {
    uint64_t seed;
    int32_t size;   /* 512 or 1024 rows and columns */
    int32_t frames; /* 1: one filled frame; more: a cine from before the contrast to its washing out */
    int32_t bits;   /* 8, 10 or 12 */
    bool two_views;
    double jpeg_ratio; /* NaN: not compressed; else asked of the writer, 8 bits */
    double shift_mm;   /* the patient moved by this between the views, direction drawn */
    bk_phantom_curve curve;
    unsigned missing;                      /* BK_MISSING_... */
    int medina[BK_PHANTOM_LIMBS];          /* proximal, distal, side: 0, 1, or -1 to draw the pattern */
    double stenosis_pct[BK_PHANTOM_LIMBS]; /* NaN: drawn to fit the Medina digit */
    double lesion_mm[2];                   /* length from, to */
    double diameter_mm[BK_PHANTOM_LIMBS];  /* references at the branch; NaN: drawn */
    bool ostial, eccentric, elliptic;
    bool crossing, wire, background, noise;
    double photons;               /* a pixel, median of the background; NaN: 1000-4000 drawn */
    double density_per_mm;        /* of the contrast; NaN: 0.10-0.30 drawn */
    double density_variation_pct; /* slow, along the limbs */
} bk_phantom_options;

bk_phantom_options bk_phantom_defaults(uint64_t seed);

/** Turn options into the bundled invented case: circumflex and obtuse marginal, Medina 1,1,1. */
void bk_phantom_demo(bk_phantom_options *options);

/**
 * Draw a phantom. Errors: BK_E_USAGE an option out of range; BK_E_NOTHING no geometry without overlap was
 * found in the allowed number of draws; BK_E_LIMIT, BK_E_INTERNAL memory. Free with bk_phantom_free.
 */
bk_status bk_phantom_new(const bk_phantom_options *options, bk_phantom **out, bk_err *err) BK_MUST_CHECK;
void bk_phantom_free(bk_phantom *phantom); /* NULL is fine */

/** Options after the draw: nothing is NaN or -1 that matters for the picture. */
const bk_phantom_options *bk_phantom_used(const bk_phantom *phantom);

typedef struct bk_phantom_geometry {
    double primary_deg, secondary_deg, sid_mm, sod_mm;
    double imager_spacing_mm; /* rows and columns alike */
    int32_t rows, cols;
} bk_phantom_geometry;

int bk_phantom_views(const bk_phantom *phantom);
/** C-arm of a view, counted from 0. */
bk_phantom_geometry bk_phantom_geometry_of(const bk_phantom *phantom, int view);

double bk_phantom_frame_time_ms(const bk_phantom *phantom);
/** Copy at most n R-wave frames (from 1); returns how many there are. 0 for a single frame. */
size_t bk_phantom_r_waves(const bk_phantom *phantom, int32_t *out, size_t n);
/**
 * Render one frame: rows x cols stored values, row-major. view from 0, frame from 1.
 * Errors: BK_E_USAGE view, frame or capacity out of range; BK_E_INTERNAL memory.
 */
bk_status bk_phantom_frame(bk_phantom *phantom, int view, int32_t frame, uint16_t *px, size_t capacity,
                           bk_err *err) BK_MUST_CHECK;

/** Linear intensity 0..65535 of each stored value of a logarithmic picture, 2^bits of them; false for others.
 */
bool bk_phantom_linear_values(const bk_phantom *phantom, float *out, size_t n);

/** The truth document (schema "branchkeep.truth/1"), owned by the caller. */
bk_json *bk_phantom_truth(const bk_phantom *phantom);

#endif
