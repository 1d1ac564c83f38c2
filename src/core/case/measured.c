/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/case/measured.h"

static const char *const agreement_words[] = {"", "agree", "disagree", "single", NULL};

static const bk_field profile_fields[] = {
    {BK_ROW_REALS(bk_measured_profile, x_px, "px", "axis, columns")},
    {BK_ROW_REALS(bk_measured_profile, y_px, "px", "axis, rows")},
    {BK_ROW_REALS(bk_measured_profile, position_mm, "mm", "from the branch point")},
    {BK_ROW_REALS(bk_measured_profile, diameter_mm, "mm", "lumen diameters")},
    {BK_ROW_REALS(bk_measured_profile, sd_mm, "mm", "their standard deviations")},
    {BK_ROW_REALS(bk_measured_profile, reference_mm, "mm", "healthy lumen expected there")},
    {0},
};

static const bk_field limb_fields[] = {
    {BK_ROW_QTY(bk_measured_limb, reference_mm, "mm", 0.3, 15, BK_MEASURED, "reference diameter")},
    {BK_ROW_QTY(bk_measured_limb, reference_by_law_mm, "mm", 0.3, 15, BK_DERIVED,
                "reference from the other limbs")},
    {BK_ROW_QTY(bk_measured_limb, mld_mm, "mm", 0, 15, BK_MEASURED, "smallest lumen diameter")},
    {BK_ROW_QTY(bk_measured_limb, stenosis_pct, "%", -50, 100, BK_MEASURED, "diameter stenosis")},
    {BK_ROW_QTY(bk_measured_limb, area_stenosis_pct, "%", -150, 100, BK_MEASURED, "area stenosis")},
    {BK_ROW_QTY(bk_measured_limb, lesion_length_mm, "mm", 0, 200, BK_PROJECTED, "length of the lesion")},
    {BK_ROW_QTY(bk_measured_limb, length_mm, "mm", 0, 300, BK_PROJECTED, "length from the branch point")},
    {BK_ROW_QTY(bk_measured_limb, ostial_mm, "mm", 0, 15, BK_MEASURED, "diameter at the ostium")},
    {BK_ROW_REAL(bk_measured_limb, mld_position_mm, "mm", 0, 300, "where the smallest lumen lies")},
    {BK_ROW_REAL(bk_measured_limb, lesion_to_mm, "mm", 0, 300, "where the lesion ends")},
    {BK_ROW_TRI(bk_measured_limb, occluded, "totally occluded")},
    {BK_ROW_OBJECT(bk_measured_limb, profile, bk_measured_profile, profile_fields, "along the axis, from the ostium")},
    {0},
};

static const bk_field segment_fields[] = {
    {BK_ROW_OBJECT(bk_measured_segments, proximal, bk_measured_limb, limb_fields, "proximal main vessel")},
    {BK_ROW_OBJECT(bk_measured_segments, distal, bk_measured_limb, limb_fields, "distal main vessel")},
    {BK_ROW_OBJECT(bk_measured_segments, side, bk_measured_limb, limb_fields, "side branch")},
    {0},
};

static const bk_field calibration_fields[] = {
    {BK_ROW_REAL(bk_measured_calibration, mm_per_px, "mm/px", 0, 10, "scale")},
    {BK_ROW_REAL(bk_measured_calibration, sd_pct, "%", 0, 100, "SD of the scale")},
    {BK_ROW_CHOICE(bk_measured_calibration, agreement, agreement_words, "do the ways to the scale agree")},
    {0},
};

static const bk_field core_fields[] = {
    {BK_ROW_QTY(bk_measured_core, diameter_mm, "mm", 0, 20, BK_MEASURED, "largest inscribed circle")},
    {BK_ROW_QTY(bk_measured_core, stenosis_pct, "%", -50, 100, BK_MEASURED, "diameter stenosis of the core")},
    {0},
};

#define ANGLE_ROWS(origin)                                                                                   \
    {BK_ROW_QTY(bk_measured_angles, distal_side_deg, "deg", 0, 180, origin, "distal main to side branch")},  \
        {BK_ROW_QTY(bk_measured_angles, proximal_side_deg, "deg", 0, 180, origin,                            \
                    "proximal main to side branch")},                                                        \
        {BK_ROW_QTY(bk_measured_angles, proximal_distal_deg, "deg", 0, 180, origin,                          \
                    "proximal to distal main")},                                                             \
        {0},

static const bk_field projected_angle_fields[] = {ANGLE_ROWS(BK_PROJECTED)};
static const bk_field space_angle_fields[] = {ANGLE_ROWS(BK_MEASURED)};

static const bk_field source_fields[] = {
    {BK_ROW_TEXT(bk_measured_source, patient_hash, "hash that tells patients apart")},
    {BK_ROW_INTEGER(bk_measured_source, rows, 2, 65535, "rows of the frame")},
    {BK_ROW_INTEGER(bk_measured_source, columns, 2, 65535, "columns of the frame")},
    {BK_ROW_REAL(bk_measured_source, phase_pct, "%", 0, 100, "phase of the beat")},
    {0},
};

static const bk_field geometry_fields[] = {
    {BK_ROW_REAL(bk_measured_geometry, primary_deg, "deg", -180, 180, "positioner's primary angle, LAO positive")},
    {BK_ROW_REAL(bk_measured_geometry, secondary_deg, "deg", -180, 180, "positioner's secondary angle, cranial positive")},
    {BK_ROW_REAL(bk_measured_geometry, sid_mm, "mm", 0, 3000, "source to image")},
    {BK_ROW_REAL(bk_measured_geometry, sod_mm, "mm", 0, 3000, "source to isocentre")},
    {BK_ROW_REALS(bk_measured_geometry, imager_spacing_mm, "mm", "detector's pixel spacing: rows, columns")},
    {0},
};

const bk_field bk_measured_fields[] = {
    {BK_ROW_TEXT(bk_measured, schema, "branchkeep.measurement/1")},
    {BK_ROW_OBJECT(bk_measured, source, bk_measured_source, source_fields, "where it was measured")},
    {BK_ROW_CHOICE(bk_measured, stage, bk_stage_words, "stage of the procedure")},
    {BK_ROW_TEXT(bk_measured, acquired_at, "time of the run, ISO 8601")},
    {BK_ROW_OBJECT(bk_measured, geometry, bk_measured_geometry, geometry_fields, "C-arm")},
    {BK_ROW_REALS(bk_measured, branch_point_px, "px", "branch point: x, y")},
    {BK_ROW_REALS(bk_measured, branch_point_sd_px, "px", "its standard deviations")},
    {BK_ROW_OBJECT(bk_measured, calibration, bk_measured_calibration, calibration_fields, "scale")},
    {BK_ROW_OBJECT(bk_measured, segments, bk_measured_segments, segment_fields, "the three limbs")},
    {BK_ROW_OBJECT(bk_measured, core, bk_measured_core, core_fields, "core of the bifurcation")},
    {BK_ROW_OBJECT(bk_measured, angles, bk_measured_angles, projected_angle_fields, "angles in the picture")},
    {0},
};

static const bk_field solid_limb_fields[] = {
    {BK_ROW_QTY(bk_solid_limb, reference_mm, "mm", 0.3, 15, BK_MEASURED, "reference diameter")},
    {BK_ROW_QTY(bk_solid_limb, mld_mm, "mm", 0, 15, BK_MEASURED, "smallest lumen diameter")},
    {BK_ROW_QTY(bk_solid_limb, stenosis_pct, "%", -50, 100, BK_MEASURED, "diameter stenosis")},
    {BK_ROW_QTY(bk_solid_limb, lesion_length_mm, "mm", 0, 200, BK_MEASURED, "length of the lesion in space")},
    {BK_ROW_QTY(bk_solid_limb, length_mm, "mm", 0, 300, BK_MEASURED,
                "length from the branch point in space")},
    {BK_ROW_REALS(bk_solid_limb, diameter_mm, "mm", "diameters along the axis")},
    {0},
};

static const bk_field solid_segment_fields[] = {
    {BK_ROW_OBJECT(bk_solid_segments, proximal, bk_solid_limb, solid_limb_fields, "proximal main vessel")},
    {BK_ROW_OBJECT(bk_solid_segments, distal, bk_solid_limb, solid_limb_fields, "distal main vessel")},
    {BK_ROW_OBJECT(bk_solid_segments, side, bk_solid_limb, solid_limb_fields, "side branch")},
    {0},
};

const bk_field bk_solid_fields[] = {
    {BK_ROW_TEXT(bk_solid, schema, "branchkeep.solid/1")},
    {BK_ROW_OBJECT(bk_solid, segments, bk_solid_segments, solid_segment_fields, "the three limbs in space")},
    {BK_ROW_OBJECT(bk_solid, angles, bk_measured_angles, space_angle_fields, "angles in space")},
    {0},
};
