/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A C-arm position: where a point in space is seen, and what a pixel sees. Source: DICOM PS3.3 C.8.7.5.1.2 (positioner
   angles, tags (0018,1510), (0018,1511), (0018,1110), (0018,1111), (0018,1164)); PS3.17 FFF.2.1.5.2: the isocentre
   projects to the middle of the field. */
#ifndef BK_CORE_ANATOMY_SPACE_CARM_H
#define BK_CORE_ANATOMY_SPACE_CARM_H

#include "base/status.h"
#include "core/anatomy/space/vec.h"
#include "core/image/image.h"

typedef struct bk_carm {
    double primary_deg;   /* positive: detector to the patient's left (LAO); -180..180 */
    double secondary_deg; /* positive: detector to the head (cranial); -90..90 */
    double sid_mm, sod_mm;
    double spacing_mm[2]; /* imager pixel spacing: of rows, of columns */
    int rows, cols;
    /* derived by bk_carm_set */
    bk_vec beam;   /* unit, from the source through the isocentre to the detector */
    bk_vec right;  /* unit: columns grow along it */
    bk_vec up;     /* unit: rows fall along it */
    bk_vec source; /* mm */
} bk_carm;

/** Unit direction from the isocentre to the detector. */
bk_vec bk_carm_beam(double primary_deg, double secondary_deg);
/** The angles that look along a unit direction (the detector on its side). */
void bk_carm_angles(bk_vec beam, double *primary_deg, double *secondary_deg);
/** Fill the derived fields. Errors: BK_E_DATA a distance or spacing that is not positive, or a SID not beyond the SOD. */
bk_status bk_carm_set(bk_carm *carm, bk_err *err) BK_MUST_CHECK;
/** Where a point is seen [px]; it must lie in front of the source. */
bk_pt_px bk_carm_project(const bk_carm *carm, bk_vec p);
/** The same, with the derivatives of x and of y by the point's coordinates [px per mm]. */
bk_pt_px bk_carm_project_with(const bk_carm *carm, bk_vec p, bk_vec *dx, bk_vec *dy);
/** Unit direction from the source through a place on the detector. */
bk_vec bk_carm_ray(const bk_carm *carm, bk_pt_px at);
/** Size of a column's pixel at the depth of a point [mm]. */
double bk_carm_mm_per_px(const bk_carm *carm, bk_vec p);
/** The same C-arm as seen by anatomy that lies `shift` away from where it lay: its source moves by -shift. */
bk_carm bk_carm_for_moved(const bk_carm *carm, bk_vec shift);
/** The point nearest to two rays (middle of their shortest connection) and the gap between them [mm]. */
bk_vec bk_carm_meet(const bk_carm *a, bk_pt_px in_a, const bk_carm *b, bk_pt_px in_b, double *gap_mm);

#endif
