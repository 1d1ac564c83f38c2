/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Millimetres per pixel: every route to it, and whether the routes agree. */
#ifndef BK_CORE_ANATOMY_CALIBRATION_H
#define BK_CORE_ANATOMY_CALIBRATION_H

#include <stdbool.h>

#include "base/arena.h"
#include "base/evidence.h"
#include "base/qty.h"
#include "base/status.h"
#include "core/image/image.h"

typedef enum bk_scale_origin { BK_SCALE_ENTERED, BK_SCALE_CATHETER, BK_SCALE_MARKER, BK_SCALE_ISOCENTRE } bk_scale_origin;

typedef struct bk_scale_route {
    bk_scale_origin origin;
    double mm_per_px;
    double sd_pct; /* one common factor for the whole frame */
} bk_scale_route;

#define BK_SCALE_ROUTES_MAX 4
typedef struct bk_scale {
    bk_scale_route route[BK_SCALE_ROUTES_MAX]; /* the one in use first */
    int routes_n;                              /* 0: no scale is known */
    bool disagree;
    double disagreement; /* largest relative distance of another route from the one in use; 0 when they agree */
} bk_scale;

/** "entered", "catheter", "marker", "isocentre". */
const char *bk_scale_origin_name(bk_scale_origin origin);
/** "single", "agree" or "disagree". */
const char *bk_scale_agreement(const bk_scale *scale);

/**
 * Spacing at the isocentre: imager spacing x SOD / SID. false when an input is absent (NaN) or not positive.
 * sd: the vessel may lie in front of or behind the isocentre: evidence row scale_depth_sd over SOD.
 * Source: DICOM PS3.3 C.8.7.5 and PS3.17 FFF.1.3 (spacing x SOD/SID); 1.3 % a cm at SOD 750 mm is geometry.
 */
bool bk_scale_by_isocentre(double spacing_mm, double sod_mm, double sid_mm, const bk_evidence_set *evidence,
                           bk_scale_route *out);

typedef struct bk_catheter {
    double ends_px[4]; /* x1, y1, x2, y2: a straight stretch of shaft */
    double french;
    bk_tri filled;     /* contrast inside */
} bk_catheter;

/**
 * Scale from the width of a catheter between two points on its shaft. Outer diameter = French / 3 mm.
 * log_image: log intensity.
 * sd: spread of the width along the shaft, and how catheters of a nominal size show: evidence rows
 *     scale_catheter_filled, _empty, _unknown. No correction is made silently.
 * Errors: BK_E_NOTHING no shaft between the points; BK_E_USAGE stretch under 10 px, or French outside 3..12.
 */
bk_status bk_scale_by_catheter(const bk_image *log_image, const bk_catheter *catheter, const bk_evidence_set *evidence,
                               bk_arena *arena, bk_scale_route *out, bk_err *err) BK_MUST_CHECK;

/**
 * Scale from two points a known length apart (marker spacing).
 * sd: half a pixel at each click, and evidence row scale_marker_tilt for lying out of the image plane.
 */
bk_status bk_scale_by_marker(const double ends_px[4], double length_mm, const bk_evidence_set *evidence,
                             bk_scale_route *out, bk_err *err) BK_MUST_CHECK;

/** A plausible scale for smoothing lengths when none is known: 0.25 mm/px at 512 columns. Never shown as a scale. */
double bk_scale_usual(int cols);

/** Add a route; those given by the operator come before the one from the tags, in the order of the enumeration. */
void bk_scale_add(bk_scale *scale, bk_scale_route route);

/** Compare the routes: two disagree when they differ by more than evidence row scale_disagree, or by more than 2 SD
    of their difference. */
void bk_scale_judge(bk_scale *scale, const bk_evidence_set *evidence);

#endif
