/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The one place that reads events: from the log and the entered totals of a case to core/patient/live.h. What
   the log kept of earlier answers is never looked at. */
#ifndef BK_APP_LIVE_H
#define BK_APP_LIVE_H

#include "app/answer.h"
#include "core/patient/live.h"

/**
 * Events that are read, each an object with "event" and, where known, "at" (ISO 8601): "contrast" (ml, added
 * up), "heparin" (units, added up), "dose" (air_kerma_gy, kerma_area_gy_cm2 or kerma_area_dgy_cm2,
 * fluoroscopy_min: readings of the display, the last one counts), "act" (s, the last one counts), "timi"
 * (limb, grade: how long the side branch was at 0), "undo" (n: that earlier entry, counted from 1, is void;
 * an undo can be undone). Others are passed over. One of these without its number is not counted, and a
 * caution says which. An entered total of the procedure stands where the log has none.
 */
bk_live bk_live_of(const bk_case *c, bk_answer *answer);

#endif
