/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What answers need of a measurement document and of a solid document; the rest is passed over.
   (Contract: branchkeep.measurement/1 and branchkeep.solid/1.) */
#ifndef BK_CORE_CASE_MEASURED_H
#define BK_CORE_CASE_MEASURED_H

#include "core/case/case.h"

/* Lists of double, from the ostium outwards, of one length where they are not empty. */
typedef struct bk_measured_profile {
    bk_list x_px, y_px, position_mm, diameter_mm, sd_mm, reference_mm;
} bk_measured_profile;

typedef struct bk_measured_limb {
    bk_qty reference_mm, reference_by_law_mm, mld_mm, stenosis_pct, area_stenosis_pct;
    bk_qty lesion_length_mm; /* absent: no lesion in this limb */
    bk_qty length_mm, ostial_mm;
    double mld_position_mm, lesion_to_mm; /* from the branch point; NaN: not said */
    bk_tri occluded;
    bk_measured_profile profile;
} bk_measured_limb;

typedef struct bk_measured_segments {
    bk_measured_limb proximal, distal, side;
} bk_measured_segments;

typedef struct bk_measured_calibration {
    double mm_per_px, sd_pct;
    int agreement; /* enum bk_agreement */
} bk_measured_calibration;
enum bk_agreement { BK_AGREEMENT_NOT_SAID, BK_AGREE, BK_DISAGREE, BK_SINGLE };

typedef struct bk_measured_core {
    bk_qty diameter_mm, stenosis_pct;
} bk_measured_core;

typedef struct bk_measured_angles {
    bk_qty distal_side_deg, proximal_side_deg, proximal_distal_deg;
} bk_measured_angles;

typedef struct bk_measured_source {
    char patient_hash[80];
    int rows, columns;
    double phase_pct;
} bk_measured_source;

typedef struct bk_measured_geometry {
    double primary_deg, secondary_deg, sid_mm, sod_mm;
    bk_list imager_spacing_mm; /* of double: rows, columns */
} bk_measured_geometry;

typedef struct bk_measured {
    char schema[40];
    bk_measured_source source;
    int stage; /* enum bk_stage */
    char acquired_at[40];
    bk_measured_geometry geometry;
    bk_measured_calibration calibration;
    bk_list branch_point_px, branch_point_sd_px; /* of double: x, y */
    bk_measured_segments segments;
    bk_measured_core core;
    bk_measured_angles angles;
} bk_measured;

/* A limb in space. The curve runs along points_mm away from the branch point; position_mm is its arc length,
   filled in after reading. */
typedef struct bk_solid_limb {
    bk_qty reference_mm, mld_mm, stenosis_pct, lesion_length_mm, length_mm;
    bk_list diameter_mm; /* of double */
    bk_list position_mm; /* of double, as many; empty when the document has no points */
} bk_solid_limb;

typedef struct bk_solid_segments {
    bk_solid_limb proximal, distal, side;
} bk_solid_segments;

typedef struct bk_solid {
    char schema[40];
    bk_solid_segments segments;
    bk_measured_angles angles;
} bk_solid;

extern const bk_field bk_measured_fields[], bk_solid_fields[];

#endif
