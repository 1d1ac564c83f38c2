/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A measured bifurcation as branchkeep.measurement/1. */
#ifndef BK_APP_MEASURE_JSON_H
#define BK_APP_MEASURE_JSON_H

#include "base/json.h"
#include "core/anatomy/bifurcation.h"

/**
 * Put the measured part of the document ("branch_point_px" to "warnings") into object.
 * with_scale: false = sizes in mm are null, since no scale is known; ratios stay.
 * agreement_sd: relative SD added to every size in mm when the scale's routes disagree (0: they agree).
 */
void bk_measure_json_fill(bk_json *object, const bk_bifurcation *b, bool with_scale, double agreement_sd);

#endif
