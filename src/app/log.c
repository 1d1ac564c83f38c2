/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/log.h"

#include <string.h>

#include "app/app.h"
#include "app/ask.h"
#include "app/case.h"
#include "app/log_view.h"
#include "base/file.h"
#include "base/nearest.h"
#include "base/time.h"

#define MEMORY_CAP ((size_t)256 * 1024 * 1024)
#define ENTRIES_MAX 100000

bk_status bk_app_log_words(const char *event, const char *const *words, int n, bk_json **out, bk_err *err)
{
    bk_json *entry = bk_json_object();
    bk_status status = BK_OK;
    bk_json_put_text(entry, "event", event);
    for (int i = 0; status == BK_OK && i < n; i++) {
        char key[32];
        const size_t length = strcspn(words[i], "=");
        if (!words[i][length] || length == 0 || length >= sizeof key) {
            status = bk_fail(err, BK_E_USAGE, "\"%.60s\" was found, KEY=VALUE was expected", words[i]);
            break;
        }
        memcpy(key, words[i], length);
        key[length] = '\0';
        status = bk_fields_set(bk_event_fields, entry, key, words[i] + length + 1, err);
    }
    *out = status == BK_OK ? entry : NULL;
    if (status != BK_OK)
        bk_json_free(entry);
    return status;
}

bk_status bk_app_log_show(const bk_json *doc, const char *now, bk_json **out, bk_err *err)
{
    bk_arena arena;
    bk_log_view view;
    *out = NULL;
    bk_arena_init(&arena, MEMORY_CAP);
    const bk_status status = bk_log_look(doc, now, &arena, &view, err);
    if (status == BK_OK)
        *out = bk_log_view_json(&view);
    bk_arena_clear(&arena);
    return status;
}

/* What the answer said is frozen with the decision: a record, which nothing reads again. */
static bk_status freeze(const bk_json *doc, bk_json *entry, bk_err *err)
{
    bk_json *answer;
    const char *topic = bk_json_text(bk_json_get(entry, "about"));
    const bk_ask ask = {topic, NULL, 0, 0, 0};
    bk_status status = bk_app_ask_topic(topic, err);
    if (status == BK_OK)
        status = bk_app_ask(&ask, doc, &answer, err);
    if (status == BK_OK)
        bk_json_put(entry, "shown", answer);
    return status;
}

/* Taken back twice, the undo of one undo would bring nothing back. */
static bk_status check_undo(const bk_json *log, const bk_event *event, bk_arena *arena, bk_err *err)
{
    const size_t n = bk_json_count(log);
    if (event->event != BK_EVENT_UNDO)
        return BK_OK;
    if ((size_t)event->n > n)
        return n ? bk_fail(err, BK_E_DATA, "undo: entry %d was found, 1 to %zu was expected", event->n, n)
                 : bk_fail(err, BK_E_DATA, "undo: entry %d was found, the log is empty", event->n);
    bk_event *events = BK_NEW(arena, n, bk_event, err);
    bool *undone = BK_NEW(arena, n, bool, err);
    if (!events || !undone)
        return err->status;
    for (size_t i = 0; i < n; i++) {
        bk_err why = {0};
        if (bk_event_read(bk_json_at(log, i), arena, &events[i], &why) != BK_OK)
            events[i].event = BK_EVENT_NONE;
    }
    bk_events_void(events, n, undone);
    return undone[event->n - 1]
               ? bk_fail(err, BK_E_DATA, "undo: entry %d was found, it is undone already: undo that undo", event->n)
               : BK_OK;
}

static bk_status check_silence(const bk_event *event, bk_err *err)
{
    bk_nearest best = {0};
    if (event->event != BK_EVENT_SILENCE || bk_alert_find(event->alert) < BK_ALERTS)
        return BK_OK;
    for (int i = 0; i < BK_ALERTS; i++)
        bk_nearest_offer(&best, event->alert, bk_alert_names[i]);
    return bk_fail(err, BK_E_DATA, "silence: alert \"%s\" is unknown, the nearest known one is \"%s\"", event->alert, best.word);
}

bk_status bk_app_log_append(bk_json *doc, const bk_json *entry, const char *now, bk_err *err)
{
    bk_arena arena;
    bk_event event;
    double minutes;
    if (bk_json_get(entry, "shown"))
        return bk_fail(err, BK_E_DATA, "a decision with its own \"shown\" was found, the log puts it there");
    if (bk_json_count(bk_json_get(doc, "log")) >= ENTRIES_MAX)
        return bk_fail(err, BK_E_LIMIT, "a log of %d entries was found, it cannot hold more", ENTRIES_MAX);
    bk_arena_init(&arena, MEMORY_CAP);
    bk_json *own = bk_json_copy(entry);
    bk_status status = bk_event_read(own, &arena, &event, err);
    if (status == BK_OK)
        status = check_undo(bk_json_get(doc, "log"), &event, &arena, err);
    if (status == BK_OK)
        status = check_silence(&event, err);
    if (status == BK_OK && event.at[0] && !bk_time_minutes(event.at, &minutes))
        status = bk_fail(err, BK_E_DATA, "at: \"%.40s\" was found, a time such as 2026-11-27T14:05:00Z was expected", event.at);
    if (status == BK_OK && !event.at[0])
        bk_json_put_text(own, "at", now);
    if (status == BK_OK && event.event == BK_EVENT_DECISION)
        status = freeze(doc, own, err);
    bk_arena_clear(&arena);
    if (status != BK_OK) {
        bk_json_free(own);
        return status;
    }
    if (!bk_json_is_array(bk_json_get(doc, "log")))
        bk_json_put(doc, "log", bk_json_array());
    bk_json_push(bk_json_get(doc, "log"), own);
    return BK_OK;
}

bk_status bk_app_log_next(const bk_json *doc, const bk_json *entry, const char *now, bk_json **out, bk_err *err)
{
    bk_arena arena;
    bk_log_view before, after;
    bk_event event;
    *out = NULL;
    bk_json *trial = bk_json_copy(doc);
    bk_arena_init(&arena, MEMORY_CAP);
    bk_status status = bk_event_read(entry, &arena, &event, err);
    if (status == BK_OK)
        status = bk_app_log_append(trial, entry, now, err);
    if (status == BK_OK)
        status = bk_log_look(doc, now, &arena, &before, err);
    if (status == BK_OK)
        status = bk_log_look(trial, now, &arena, &after, err);
    if (status == BK_OK)
        *out = bk_log_next_json(&before, &after, &event, entry);
    bk_arena_clear(&arena);
    bk_json_free(trial);
    return status;
}

/* ---- in a file ---- */

static bk_status add_to_file(const char *path, bk_json *doc, const bk_json *entry, const char *now, bk_err *err)
{
    const double revision = bk_json_number(bk_json_get(doc, "revision"));
    const bk_status status = bk_app_log_append(doc, entry, now, err);
    if (status != BK_OK)
        return status;
    bk_json_put_integer(doc, "revision", revision >= 0 ? (int64_t)revision + 1 : 1);
    return bk_json_write_file(doc, path, err);
}

static bk_status act(const char *path, bk_log_action action, const bk_json *entry, bk_json **out, bk_err *err)
{
    char now[32];
    bk_json *doc = NULL;
    bk_arena arena;
    bk_case c;
    bk_app_now(now);
    bk_arena_init(&arena, MEMORY_CAP);
    bk_status status = bk_app_case_read(path, &arena, &doc, &c, err);
    bk_arena_clear(&arena);
    if (status == BK_OK && action == BK_LOG_ADD)
        status = add_to_file(path, doc, entry, now, err);
    if (status == BK_OK)
        status = action == BK_LOG_NEXT ? bk_app_log_next(doc, entry, now, out, err) : bk_app_log_show(doc, now, out, err);
    bk_json_free(doc);
    return status;
}

bk_status bk_app_log_file(const char *path, bk_log_action action, const bk_json *entry, bk_json **out, bk_err *err)
{
    int held = -1;
    *out = NULL;
    bk_status status = action == BK_LOG_ADD ? bk_file_hold(path, &held, err) : BK_OK;
    if (status == BK_OK)
        status = act(path, action, entry, out, err);
    if (held >= 0)
        bk_file_let_go(held);
    return status;
}
