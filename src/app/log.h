/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The log of a procedure: append-only, in the case document. What it says of the case stands first, then at most one alert. */
#ifndef BK_APP_LOG_H
#define BK_APP_LOG_H

#include "base/json.h"
#include "base/status.h"

/**
 * The log as branchkeep.log/1: entries[], state{}, alert|null, waiting[], silenced[], quiet, missing[], cautions[].
 * now: ISO 8601; "": the time of the last entry. An entry that cannot be read is listed with the reason and not counted.
 */
bk_status bk_app_log_show(const bk_json *case_doc, const char *now, bk_json **out, bk_err *err) BK_MUST_CHECK;

/**
 * Append an event to the log of a document (revision + 1), or refuse it with nothing changed. entry: the event as an
 * object; "at" is filled in with now where it is missing; a decision gets the answer to its topic under "shown".
 * Errors: BK_E_DATA the event does not read, or undoes what is not there.
 */
bk_status bk_app_log_append(bk_json *case_doc, const bk_json *entry, const char *now, bk_err *err) BK_MUST_CHECK;

/** What the log would say with that event in it: as bk_app_log_show, with "about" and "new_alerts"; nothing is kept. */
bk_status bk_app_log_next(const bk_json *case_doc, const bk_json *entry, const char *now, bk_json **out, bk_err *err) BK_MUST_CHECK;

typedef enum bk_log_action { BK_LOG_SHOW, BK_LOG_ADD, BK_LOG_NEXT } bk_log_action;

/**
 * The same on a case file. The file is locked while it is changed, and replaced as a whole: a process that dies leaves the old
 * or the new one, and what was answered is kept. *out: the log as it then stands.
 */
bk_status bk_app_log_file(const char *path, bk_log_action action, const bk_json *entry, bk_json **out, bk_err *err) BK_MUST_CHECK;

/** "stent", "limb=main", ... as an event object; numbers stay numbers. Errors: BK_E_USAGE a word that is no KEY=VALUE. */
bk_status bk_app_log_words(const char *event, const char *const *words, int n, bk_json **out, bk_err *err) BK_MUST_CHECK;

#endif
