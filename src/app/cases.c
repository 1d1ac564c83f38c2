/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/app.h"
#include "app/cases.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/cases_inside.h"

/* XDG Base Directory Specification: $XDG_DATA_HOME when absolute, else ~/.local/share. */
static bk_status default_folder(char *out, size_t room, bk_err *err)
{
    const char *data = getenv("XDG_DATA_HOME"), *home = getenv("HOME"); /* NOLINT(concurrency-mt-unsafe) */
    int n = -1;
    if (data && data[0] == '/')
        n = snprintf(out, room, "%s/branchkeep", data);
    else if (home && home[0] == '/')
        n = snprintf(out, room, "%s/.local/share/branchkeep", home);
    if (n < 0 || (size_t)n >= room)
        return bk_fail(err, BK_E_USAGE, "no home folder was found, --data DIR was expected");
    return BK_OK;
}

bk_status bk_cases_open(const char *folder, bk_cases **out, bk_err *err)
{
    char own[4096];
    *out = NULL;
    if (folder && !folder[0])
        return bk_fail(err, BK_E_USAGE,
                       "an empty folder name was found, a folder for the cases was expected");
    if (!folder) {
        const bk_status status = default_folder(own, sizeof own, err);
        if (status != BK_OK)
            return status;
        folder = own;
    }
    bk_cases *cases = calloc(1, sizeof *cases);
    if (!cases)
        return bk_fail(err, BK_E_INTERNAL, "out of memory for the cases");
    const bk_status status = bk_store_open(folder, &cases->store, err);
    if (status == BK_OK)
        *out = cases;
    else
        free(cases);
    return status;
}

void bk_cases_close(bk_cases *cases)
{
    if (!cases)
        return;
    bk_store_close(cases->store);
    free(cases);
}

/* ---- lists ---- */

/* A summary is what we wrote ourselves; one that cannot be read leaves its keys null. */
static void put_summary(bk_json *item, const char *summary, const char *const keys[])
{
    bk_json *read = NULL;
    bk_err ignored = {0};
    if (bk_json_read(summary, strlen(summary), &read, &ignored) != BK_OK)
        read = NULL;
    for (int i = 0; keys[i]; i++) {
        const bk_json *value = bk_json_get(read, keys[i]);
        bk_json_put(item, keys[i], value ? bk_json_copy(value) : bk_json_new_null());
    }
    bk_json_free(read);
}

static bk_status list_case(void *context, const bk_store_row *row, bk_err *err)
{
    static const char *const keys[] = {"site", "stage", "measured", NULL};
    bk_json *item = bk_json_object();
    (void)err;
    bk_json_put_text(item, "case_id", row->case_id);
    bk_json_put_integer(item, "revision", row->revision);
    bk_json_put_text(item, "saved_at", row->saved_at);
    put_summary(item, row->summary, keys);
    bk_json_put_integer(item, "cines", row->cines);
    if (row->removed_at)
        bk_json_put_text(item, "removed_at", row->removed_at);
    bk_json_push(context, item);
    return BK_OK;
}

/* {schema, key: list}, or nothing when status is a failure. Takes the list over. */
static bk_status finish(bk_status status, const char *schema, const char *key, bk_json *list, bk_json **out)
{
    *out = NULL;
    if (status != BK_OK) {
        bk_json_free(list);
        return status;
    }
    *out = bk_json_object();
    bk_json_put_text(*out, "schema", schema);
    bk_json_put(*out, key, list);
    return BK_OK;
}

bk_status bk_cases_list_all(bk_cases *cases, bool all, bk_json **out, bk_err *err)
{
    bk_json *list = bk_json_array();
    const bk_status status = bk_store_list(cases->store, all, list_case, list, err);
    return finish(status, "branchkeep.cases/1", "cases", list, out);
}

bk_status bk_cases_list(bk_cases *cases, bk_json **out, bk_err *err)
{
    return bk_cases_list_all(cases, false, out, err);
}

static bk_status list_revision(void *context, const bk_store_row *row, bk_err *err)
{
    bk_json *history = context, *item = bk_json_object();
    (void)err;
    bk_json_put_text(history, "removed_at", row->removed_at);
    bk_json_put_integer(item, "revision", row->revision);
    bk_json_put_integer(item, "based_on", row->based_on);
    bk_json_put_text(item, "saved_at", row->saved_at);
    bk_json_put_text(item, "sha256", row->sha256);
    bk_json_put_integer(item, "bytes", row->bytes);
    bk_json_push(bk_json_get(history, "revisions"), item);
    return BK_OK;
}

bk_status bk_cases_history(bk_cases *cases, const char *case_id, bk_json **out, bk_err *err)
{
    *out = bk_json_object();
    bk_json_put_text(*out, "schema", "branchkeep.revisions/1");
    bk_json_put_text(*out, "case_id", case_id);
    bk_json_put_null(*out, "removed_at");
    bk_json_put(*out, "revisions", bk_json_array());
    const bk_status status = bk_store_history(cases->store, case_id, list_revision, *out, err);
    if (status != BK_OK) {
        bk_json_free(*out);
        *out = NULL;
    }
    return status;
}

static bk_status list_cine(void *context, const bk_store_cine *cine, bk_err *err)
{
    static const char *const keys[] = {"frames", "rows", "columns", "primary_deg", "secondary_deg", NULL};
    bk_json *item = bk_json_object();
    (void)err;
    bk_json_put_text(item, "sha256", cine->sha256);
    bk_json_put_integer(item, "bytes", cine->bytes);
    put_summary(item, cine->summary, keys);
    bk_json_put_text(item, "added_at", cine->added_at);
    bk_json_push(context, item);
    return BK_OK;
}

bk_status bk_cases_cines(bk_cases *cases, bk_json **out, bk_err *err)
{
    bk_json *list = bk_json_array();
    const bk_status status = bk_store_cines(cases->store, NULL, list_cine, list, err);
    return finish(status, "branchkeep.cines/1", "cines", list, out);
}

/* ---- documents ---- */

bk_status bk__take_document(void *context, const bk_store_row *row, bk_err *err)
{
    return bk_json_read(row->document, strlen(row->document), context, err);
}

bk_status bk_cases_load(bk_cases *cases, const char *case_id, int revision, bk_json **out, bk_err *err)
{
    *out = NULL;
    return bk_store_load(cases->store, case_id, revision, bk__take_document, out, err);
}

/* Both versions, and what they have in common, for whoever has to bring them together. */
static bk_status tell_conflict(bk_cases *cases, const char *case_id, int based_on, bk_json *out, bk_err *err)
{
    bk_json *theirs = NULL, *base = NULL;
    bk_status status = bk_cases_load(cases, case_id, 0, &theirs, err);
    if (status == BK_OK && based_on > 0)
        status = bk_cases_load(cases, case_id, based_on, &base, err);
    if (status != BK_OK) {
        bk_json_free(theirs);
        return status;
    }
    bk_json_put_integer(out, "revision", (int64_t)bk_json_number(bk_json_get(theirs, "revision")));
    bk_json_put_integer(out, "based_on", based_on);
    bk_json_put(out, "theirs", theirs);
    bk_json_put(out, "base", base ? base : bk_json_new_null());
    return BK_OK;
}

static bk_status save(bk_cases *cases, const bk_kept *kept, int based_on, bk_json *out, bool *conflict,
                      bk_err *err)
{
    char now[32];
    bk_app_now(now);
    const bk_store_entry entry = {
        .case_id = bk__kept_id(kept),
        .based_on = based_on,
        .saved_at = now,
        .summary = kept->summary,
        .document = kept->text,
        .cines = kept->cines,
        .cines_n = kept->cines_n,
    };
    const bk_status status = bk_store_save(cases->store, &entry, conflict, err);
    bk_json_put_text(out, "case_id", entry.case_id);
    if (status != BK_OK)
        return status;
    if (*conflict)
        return tell_conflict(cases, entry.case_id, based_on, out, err);
    bk_json_put_integer(out, "revision", based_on + 1);
    return BK_OK;
}

bk_status bk_cases_save(bk_cases *cases, const bk_json *document, int based_on, bk_json **out, bool *conflict,
                        bk_err *err)
{
    bk_kept kept;
    *out = NULL;
    *conflict = false;
    if (based_on < 0 || based_on >= 1000000000)
        return bk_fail(err, BK_E_USAGE, "a case based on revision %d was found, 0 or more was expected",
                       based_on);
    bk_status status = bk__kept_make(document, based_on + 1, &kept, err);
    if (status != BK_OK)
        return status;
    *out = bk_json_object();
    status = save(cases, &kept, based_on, *out, conflict, err);
    bk__kept_clear(&kept);
    if (status != BK_OK) {
        bk_json_free(*out);
        *out = NULL;
    }
    return status;
}

/* ---- cines ---- */

bk_status bk_cases_put_cine(bk_cases *cases, const char *path, char sha256[65], bk_err *err)
{
    char now[32];
    bool is_new;
    bk_app_now(now);
    return bk_store_put_cine(cases->store, path, now, bk__look_at_cine, sha256, &is_new, err);
}

bk_status bk_cases_cine_path(bk_cases *cases, const char *sha256, char **path, bk_err *err)
{
    return bk_store_cine_path(cases->store, sha256, path, err);
}
