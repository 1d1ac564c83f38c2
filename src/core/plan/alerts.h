/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is worth a word while a procedure runs. Alerts belong to states: they stand as soon as the step before is logged.
   docs/methods/live.md */
#ifndef BK_CORE_PLAN_ALERTS_H
#define BK_CORE_PLAN_ALERTS_H

#include "base/evidence.h"
#include "core/plan/progress.h"

typedef enum bk_alert_id { /* the most pressing first */
    BK_ALERT_DO_NOT_PULL,
    BK_ALERT_SECOND_LAYER,
    BK_ALERT_PLATFORM,
    BK_ALERT_PAIR_FIT,
    BK_ALERT_ACT_100,
    BK_ALERT_CONTRAST_100,
    BK_ALERT_DOSE_100,
    BK_ALERT_ACT_75,
    BK_ALERT_CONTRAST_75,
    BK_ALERT_DOSE_75,
    BK_ALERTS
} bk_alert_id;
/** Ids, each also the id of its evidence row with "alert_" before it. */
extern const char *const bk_alert_names[BK_ALERTS];
extern const char *const bk_alert_rows[BK_ALERTS];

/* Parts of a budget that are used, percent; NaN: not known, or none chosen. */
typedef struct bk_budget_used {
    double contrast_pct, dose_pct, act_pct;
} bk_budget_used;

typedef struct bk_alert_input {
    const bk_progress *progress;
    const bk_strategy_traits *strategy;
    bk_budget_used used;
    double pot_mm;       /* POT balloon that is planned, nominal; NaN: not known */
    bk_tri pair_too_big; /* for the guide: the pair of balloons that comes next */
    const bk_evidence_set *evidence;
} bk_alert_input;

typedef struct bk_alerts {
    bool on[BK_ALERTS];
    bk_to_come to_come;
    double platform_need_mm; /* what the main stent would have to reach, when its alert is on */
} bk_alerts;

/** Every alert whose state is met. Source: rows alert_* and platforms.csv. */
bk_alerts bk_alerts_find(const bk_alert_input *in);

/** Is an alert spoken in a phase? While something is up or a wire looks for its way, only "do not pull" is. */
bool bk_alert_spoken(bk_alert_id alert, bk_phase phase);

#endif
