/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The course of the three limbs in a picture, roughly: what is known of it before a measurement. */
#ifndef BK_CORE_ANATOMY_COURSE_H
#define BK_CORE_ANATOMY_COURSE_H

#include <stddef.h>

#include "core/image/image.h"
#include "core/limb.h"

#define BK_COURSE_MAX 40 /* points of a limb */

typedef struct bk_course {
    bk_pt_px at[BK_LIMBS][BK_COURSE_MAX]; /* polylines from the branch point outwards */
    size_t n[BK_LIMBS];
} bk_course;

/** Distance from p to the nearest limb [px]; infinite when no limb has points. */
double bk_course_distance(const bk_course *course, bk_pt_px p);

/** Distance from p to a limb that is continued straight beyond both its ends [px]; 0 for a limb of fewer than two points. */
double bk_course_aside(const bk_course *course, int limb, bk_pt_px p);

/** The same course with every point moved by (dx, dy) px. */
bk_course bk_course_moved(const bk_course *course, double dx, double dy);

#endif
