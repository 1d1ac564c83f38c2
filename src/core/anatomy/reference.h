/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The healthy lumen a limb would have: a robust line through the diameters outside disease. */
#ifndef BK_CORE_ANATOMY_REFERENCE_H
#define BK_CORE_ANATOMY_REFERENCE_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/status.h"

typedef struct bk_reference {
    double at_start, slope;  /* reference(s) = at_start + slope * s, s from the first sample, same unit */
    double covariance[3];    /* var(at_start), cov, var(slope): from the scatter left outside disease */
    double *gradient[2];     /* n each: change of at_start and slope for a change of each diameter sample */
    double healthy_mm;       /* length of vessel that the line rests on */
} bk_reference;

/**
 * Straight line by iteratively re-weighted least squares: Tukey's biweight, harder below the line than above
 * since disease only narrows; a weak prior keeps the slope near that of healthy taper.
 *
 * diameter, sd: n values in mm at positions step_mm apart. usable: false = not to be used (NULL: all are).
 * Source: "computer calculated" reference of DICOM PS3.17 annex T.4; weights Beaton & Tukey, Technometrics
 *         1974;16:147 (from memory); slope prior 0.012 mm/mm: our trial (docs/methods/reference.md).
 * Errors: BK_E_NOTHING fewer than 8 usable samples; BK_E_LIMIT.
 */
bk_status bk_reference_fit(const double *diameter_mm, const double *sd_mm, const bool *usable, size_t n,
                           double step_mm, bk_arena *arena, bk_reference *out, bk_err *err) BK_MUST_CHECK;

double bk_reference_at(const bk_reference *reference, double s_mm);

#endif
