/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A log, replayed against its case. */
#ifndef BK_APP_LOG_VIEW_H
#define BK_APP_LOG_VIEW_H

#include "app/answer.h"
#include "core/patient/live.h"
#include "core/plan/alerts.h"

typedef struct bk_log_view {
    const bk_json *log;
    const char *case_id;
    size_t n;
    const bk_event *events;    /* n; event 0 where the entry could not be read */
    const char **unreadable;   /* n; NULL where it could */
    bool *undone;              /* n */
    bk_progress progress;
    bk_strategy_traits strategy;
    bk_alerts alerts;
    const char *silenced[BK_ALERTS]; /* the reason; NULL: not silenced */
    bk_live live;
    bk_budget_used used;
    double minutes_since_last, act_minutes; /* NaN: no times */
    bool rule_chosen;
    bk_answer answer; /* what is missing and the cautions; taken over by the JSON */
} bk_log_view;

/** Errors: BK_E_DATA the case does not read; BK_E_LIMIT. */
bk_status bk_log_look(const bk_json *case_doc, const char *now, bk_arena *arena, bk_log_view *out, bk_err *err) BK_MUST_CHECK;

/** branchkeep.log/1; the view's answer is used up. */
bk_json *bk_log_view_json(bk_log_view *view);

/** The same for a log with one more event, with "about" and the alerts that the event would bring; both views are used up. */
bk_json *bk_log_next_json(bk_log_view *before, bk_log_view *after, const bk_event *event, const bk_json *entry);

#endif
