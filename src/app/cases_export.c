/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One case, or everything, into an archive. Members of a case: cases/1/REVISION.json and cines/SHA256.dcm; of
   a backup: the database and the cines. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/app.h"
#include "app/cases_inside.h"
#include "base/format.h"
#include "store/archive_file.h"

typedef struct export
{
    bk_cases *cases;
    bk_members members;
    bk_json *revisions; /* of the manifest; borrowed */
    int64_t cines;
}
export;

static bk_json *new_manifest(const char *holds)
{
    char now[32];
    bk_json *manifest = bk_json_object();
    bk_app_now(now);
    bk_json_put_text(manifest, "schema", BK_ARCHIVE_SCHEMA);
    bk_json_put_text(manifest, "created_with", bk_engine);
    bk_json_put_text(manifest, "made_at", now);
    bk_json_put_text(manifest, "holds", holds);
    return manifest;
}

static bk_status add_revision(void *context, const bk_store_row *row, bk_err *err)
{
    export *e = context;
    char name[48];
    snprintf(name, sizeof name, "cases/1/%d.json", row->revision);
    char *text = strdup(row->document);
    if (!text)
        return bk_fail(err, BK_E_INTERNAL, "out of memory at %zu bytes", strlen(row->document));
    const bk_status status = bk_members_add(&e->members, name, NULL, text, err);
    if (status != BK_OK)
        return status;
    bk_format(e->members.items[e->members.n - 1].sha256, 65, "%s", row->sha256);
    bk_json *item = bk_json_object();
    bk_json_put_integer(item, "revision", row->revision);
    bk_json_put_text(item, "saved_at", row->saved_at);
    bk_json_put_text(item, "member", name);
    bk_json_push(e->revisions, item);
    return BK_OK;
}

static bk_status add_cine(void *context, const bk_store_cine *cine, bk_err *err)
{
    export *e = context;
    char name[80], *path;
    bk_status status = bk_store_cine_path(e->cases->store, cine->sha256, &path, err);
    if (status != BK_OK)
        return status;
    snprintf(name, sizeof name, "cines/%s.dcm", cine->sha256);
    status = bk_members_add(&e->members, name, path, NULL, err);
    if (status == BK_OK)
        bk_format(e->members.items[e->members.n - 1].sha256, 65, "%s", cine->sha256);
    e->cines++;
    return status;
}

static bk_status add_case(export *e, const char *case_id, bk_err *err)
{
    int newest;
    bool removed;
    bk_status status = bk_store_newest(e->cases->store, case_id, &newest, &removed, err);
    if (status == BK_OK && newest == 0)
        status = bk_fail(err, BK_E_NOTHING,
                         "case \"%.60s\" was not found, the id of a kept case was expected", case_id);
    for (int revision = 1; status == BK_OK && revision <= newest; revision++)
        status = bk_store_load(e->cases->store, case_id, revision, add_revision, e, err);
    return status == BK_OK ? bk_store_cines(e->cases->store, case_id, add_cine, e, err) : status;
}

static bk_json *answer(const export *e, const char *file)
{
    int64_t bytes = 0;
    bk_json *out = bk_json_object();
    for (size_t i = 0; i < e->members.n; i++)
        bytes += e->members.items[i].bytes;
    bk_json_put_text(out, "file", file);
    bk_json_put_integer(out, "members", (int64_t)e->members.n);
    bk_json_put_integer(out, "cines", e->cines);
    bk_json_put_integer(out, "bytes", bytes);
    return out;
}

bk_status bk_cases_export(bk_cases *cases, const char *case_id, const char *file, bk_json **out, bk_err *err)
{
    export e = {.cases = cases};
    *out = NULL;
    bk_status status = bk__must_be_new(file, err);
    if (status == BK_OK)
        status = bk_store_begin(cases->store, false, err);
    if (status != BK_OK)
        return status;
    bk_json *manifest = new_manifest("case"), *list = bk_json_array(), *item = bk_json_object();
    e.revisions = bk_json_array();
    bk_json_put_text(item, "case_id", case_id);
    bk_json_put(item, "revisions", e.revisions);
    bk_json_push(list, item);
    bk_json_put(manifest, "cases", list);
    status = bk_store_end(cases->store, add_case(&e, case_id, err), err);
    if (status == BK_OK)
        status = bk_archive_write(file, manifest, &e.members, err);
    if (status == BK_OK)
        *out = answer(&e, file);
    bk_members_clear(&e.members);
    bk_json_free(manifest);
    return status;
}

/* The snapshot says which cines belong to it; it is opened, read and closed before its bytes are taken. */
static bk_status add_snapshot(export *e, const char *folder, bk_err *err)
{
    bk_store *snapshot;
    bk_status status = bk_store_snapshot(e->cases->store, folder, err);
    if (status == BK_OK)
        status = bk_store_open(folder, &snapshot, err);
    if (status != BK_OK)
        return status;
    status = bk_store_cines(snapshot, NULL, add_cine, e, err);
    bk_store_close(snapshot);
    return status;
}

static bk_status add_database(export *e, const char *folder, bk_err *err)
{
    const size_t room = strlen(folder) + strlen(bk_store_database) + 2;
    char *path = malloc(room);
    if (!path)
        return bk_fail(err, BK_E_INTERNAL, "out of memory at %zu bytes", room);
    snprintf(path, room, "%s/%s", folder, bk_store_database);
    const bk_status status = bk_members_add(&e->members, bk_store_database, path, NULL, err);
    return status == BK_OK ? add_snapshot(e, folder, err) : status;
}

bk_status bk_cases_backup(bk_cases *cases, const char *file, bk_json **out, bk_err *err)
{
    export e = {.cases = cases};
    bk_store_work work;
    *out = NULL;
    bk_status status = bk__must_be_new(file, err);
    if (status == BK_OK)
        status = bk_store_work_new(cases->store, &work, err);
    if (status != BK_OK)
        return status;
    bk_json *manifest = new_manifest("backup");
    status = add_database(&e, work.folder, err);
    if (status == BK_OK)
        status = bk_archive_write(file, manifest, &e.members, err);
    if (status == BK_OK)
        *out = answer(&e, file);
    bk_store_work_end(&work);
    bk_members_clear(&e.members);
    bk_json_free(manifest);
    return status;
}
