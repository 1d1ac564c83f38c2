/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cone-beam geometry of a C-arm, written apart from the measuring rooms so that the two can check each other.
   Source: DICOM PS3.3 C.8.7.5.1.2 (positioner angles), (0018,1110), (0018,1111), (0018,1164), and PS3.17
   FFF.2.1.5.2: the isocentre projects to the middle of the field. Pixel (0,0) is the centre of the top-left
   pixel. */
#ifndef BK_PHANTOM_CARM_H
#define BK_PHANTOM_CARM_H

#include <stdint.h>

#include "phantom/vec.h"

typedef struct ph_carm {
    double primary_deg;   /* + = patient left (LAO) */
    double secondary_deg; /* + = cranial */
    double sid_mm, sod_mm, spacing_mm;
    int32_t rows, cols;
    ph_vec to_detector; /* unit, from the isocentre */
    ph_vec right, up;   /* unit image axes: columns grow along right, rows fall along up */
    ph_vec source;
} ph_carm;

typedef struct ph_px {
    double x, y;
} ph_px;

/** Fill the derived fields from the angles and distances. */
void ph_carm_set(ph_carm *carm);

/** Where a point is seen. It must lie in front of the source. */
ph_px ph_carm_project(const ph_carm *carm, ph_vec p);

/** Size of a pixel at the depth of p [mm]: spacing x distance from the source along the beam / SID. */
double ph_carm_mm_per_px(const ph_carm *carm, ph_vec p);

/** Unit direction from the source to a place on the detector. */
ph_vec ph_carm_ray(const ph_carm *carm, double x_px, double y_px);

/** The same C-arm seen by anatomy that has been moved by shift_mm. */
ph_carm ph_carm_for_moved(const ph_carm *carm, ph_vec shift_mm);

#endif
