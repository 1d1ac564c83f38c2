/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/flips.h"

#include <string.h>

#include "base/format.h"

#define PATH_ROOM 200
#define DEPTH_MAX 6 /* answers are laid out flat; deeper is no rule any more */

/* Keys whose change is a flip; any other number may move without one. */
static bool turns(const char *key)
{
    static const char *const keys[] = {"met",       "present",     "complex",  "applies",
                                       "stratum",     "exposed",  "for_this_anatomy",
                                       "this_case", "stratum_met", "strategy", "this_case_belongs",
                                       "hold",      "verdict",     "guide_verdict", "followed_by_devices_and_steps"};
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++)
        if (strcmp(keys[i], key) == 0)
            return true;
    return false;
}

/* In words, so that null, yes/no and texts compare alike; "" for what is no plain word. */
static const char *word(const bk_json *value)
{
    if (!value || bk_json_is_null(value))
        return "none";
    if (bk_json_is_bool(value))
        return bk_json_true(value) ? "yes" : "no";
    return bk_json_is_text(value) ? bk_json_text(value) : "";
}

static void push(bk_json *list, const char *what, const char *from, const char *to)
{
    bk_json *flip = bk_json_object();
    bk_json_put_text(flip, "what", what);
    bk_json_put_text(flip, "from", from);
    bk_json_put_text(flip, "to", to);
    bk_json_push(list, flip);
}

static const char *id_of(const bk_json *entry)
{
    const char *id = bk_json_text(bk_json_get(entry, "id"));
    return id[0] ? id : bk_json_text(bk_json_get(entry, "use"));
}

static const bk_json *entry_of(const bk_json *array, const char *id)
{
    for (size_t i = 0; i < bk_json_count(array); i++)
        if (strcmp(id_of(bk_json_at(array, i)), id) == 0)
            return bk_json_at(array, i);
    return NULL;
}

static void compare(const bk_json *before, const bk_json *after, const char *path, int depth, bk_json *list);

/* Entries are met by their ids, so a new order is no flip; steps that come or go are. */
static void compare_arrays(const bk_json *before, const bk_json *after, const char *path, int depth, bk_json *list)
{
    char at[PATH_ROOM];
    for (size_t i = 0; i < bk_json_count(after); i++) {
        const bk_json *entry = bk_json_at(after, i);
        const char *id = id_of(entry);
        if (!id[0])
            continue;
        bk_format(at, sizeof at, "%s.%s", path, id);
        const bk_json *was = entry_of(before, id);
        if (was)
            compare(was, entry, at, depth + 1, list);
        else
            push(list, at, "none", "here");
    }
    for (size_t i = 0; i < bk_json_count(before); i++) {
        const char *id = id_of(bk_json_at(before, i));
        if (!id[0] || entry_of(after, id))
            continue;
        bk_format(at, sizeof at, "%s.%s", path, id);
        push(list, at, "here", "none");
    }
}

static void compare(const bk_json *before, const bk_json *after, const char *path, int depth, bk_json *list)
{
    static const char *const frame[] = {"inputs", "missing", "sources", "cautions", "what_if"};
    for (size_t i = 0; depth < DEPTH_MAX && i < bk_json_count(after); i++) {
        char at[PATH_ROOM];
        bk_json *now;
        const char *key = bk_json_key_at(after, i, &now);
        const bk_json *was = bk_json_get(before, key);
        bool skipped = false;
        for (size_t k = 0; depth == 0 && k < sizeof frame / sizeof frame[0]; k++)
            skipped = skipped || strcmp(key, frame[k]) == 0;
        if (skipped)
            continue;
        bk_format(at, sizeof at, "%s%s%s", path, path[0] ? "." : "", key);
        const bool said = strcmp(key, "value") == 0 && bk_json_is_text(was) && bk_json_is_text(now); /* of indication */
        if ((said || turns(key)) && strcmp(word(was), word(now)) != 0)
            push(list, at, word(was), word(now));
        else if (bk_json_is_array(now))
            compare_arrays(was, now, at, depth, list);
        else if (bk_json_is_object(now) && bk_json_is_object(was))
            compare(was, now, at, depth + 1, list);
    }
}

void bk_flips_put(const bk_json *before, bk_json *after)
{
    if (!before) {
        bk_json_put_null(after, "flips");
        return;
    }
    bk_json *list = bk_json_array();
    compare(before, after, "", 0, list);
    bk_json_put(after, "flips", list);
    if (bk_json_get(before, "place"))
        bk_json_put(after, "place_before", bk_json_copy(bk_json_get(before, "place")));
}
