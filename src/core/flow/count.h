/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Corrected TIMI frame count and velocity of the contrast front. docs/methods/flow.md */
#ifndef BK_CORE_FLOW_COUNT_H
#define BK_CORE_FLOW_COUNT_H

#include "base/evidence.h"

typedef enum bk_count_vessel { BK_COUNT_LAD, BK_COUNT_LCX, BK_COUNT_RCA, BK_COUNT_VESSELS } bk_count_vessel;
/** "lad", "lcx", "rca". */
extern const char *const bk_count_vessel_names[BK_COUNT_VESSELS];

typedef struct bk_count {
    double frames;       /* at 30 frames a second, before the correction */
    double corrected;    /* comparable between vessels: the LAD's divided by 1.7 */
    double half_width;   /* of the corrected count: one frame of the film at either end */
    double velocity_cm_s;
    double velocity_sd_cm_s; /* of the ends and of the injection; the length to the landmark has no published spread here */
} bk_count;

/** From the time between the two frames and the time of one frame [s], both above 0. Source: Gibson 1996. */
bk_count bk_count_of(double seconds, double frame_seconds, bk_count_vessel vessel, const bk_evidence_set *evidence);

#endif
