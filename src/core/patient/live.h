/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was used and measured so far, wherever it was kept: the log of the procedure, or totals entered by
   hand. Answers take this struct and never look at events themselves. */
#ifndef BK_CORE_PATIENT_LIVE_H
#define BK_CORE_PATIENT_LIVE_H

#include <stdbool.h>

typedef struct bk_live { /* NaN: not known */
    double contrast_ml, air_kerma_gy, kerma_area_gy_cm2, fluoroscopy_min, heparin_u;
    double act_s, act_minutes_ago; /* since the last ACT, at the last event that has a time */
    double side_closed_min; /* how long the side branch was at TIMI 0; to the last event while it still is */
    double side_timi_last;  /* grade of the side branch at its last event */
    double last_event_min;  /* time of the last event that has one */
    const char *contrast_from, *dose_from, *act_from; /* "log", "procedure"; NULL: nowhere */
} bk_live;

#endif
