/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The limbs of a branchkeep.solid/1 document as curves in space. */
#ifndef BK_APP_SOLID_READ_H
#define BK_APP_SOLID_READ_H

#include <stdbool.h>

#include "base/arena.h"
#include "base/json.h"
#include "core/anatomy/space/curve3.h"
#include "core/limb.h"

typedef struct bk_app_solid {
    bk_curve3 limb[BK_LIMBS];
    bool direction_assumed; /* the document does not say how well directions are known: the published SD was taken */
    bool position_assumed;  /* the same of places */
} bk_app_solid;

/**
 * segments.{limb}.points_mm, diameter_mm and, when there, sd_mm. SD of a limb's direction: segments.{limb}.direction_sd_deg, else
 * from the SDs of the three angles (of independent limbs they are sums of two squares each; no less than an equal
 * share, since limbs of one rebuild are not independent), else the published SD of an angle from two views. SD of place: segments.{limb}.position_sd_mm, else that of the limb's length, else published.
 * Errors: BK_E_DATA another schema, a limb without points, lists of unequal length, not a number, a point over 500 mm
 * from the isocentre, a diameter not in 0..20 mm, limbs that do not start in one point.
 */
bk_status bk_app_solid_read(const bk_json *solid, bk_arena *arena, bk_app_solid *out, bk_err *err) BK_MUST_CHECK;

#endif
