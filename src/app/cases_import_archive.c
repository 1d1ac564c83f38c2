/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Import of an archive of cases: their histories, and the cines among its members. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/app.h"
#include "app/cases_import.h"
#include "base/file.h"

static const bk_member *find_member(const bk_import *m, const char *name)
{
    for (size_t i = 0; i < m->members.n; i++)
        if (strcmp(m->members.items[i].name, name) == 0)
            return &m->members.items[i];
    return NULL;
}

/* Bytes as they were kept, so that their hash stays; JSON has no zero byte, so the text is whole. */
static bk_status read_revision(const bk_import *m, const bk_json *item, const char *case_id, int revision,
                               char **text, bk_kept *made, bk_err *err)
{
    const bk_member *member = find_member(m, bk_json_text(bk_json_get(item, "member")));
    bk_json *doc = NULL;
    size_t n;
    if (!member || bk_json_number(bk_json_get(item, "revision")) != revision ||
        !bk_json_text(bk_json_get(item, "saved_at"))[0])
        return bk__refuse_archive(
            err, "a case whose revisions do not count from 1, or lack member or saved_at", "a whole history");
    bk_status status = bk_file_read(member->path, BK_STORE_DOCUMENT_MAX, text, &n, err);
    if (status == BK_OK)
        status = bk_json_read(*text, n, &doc, err);
    if (status == BK_OK && (strcmp(bk_json_text(bk_json_get(doc, "case_id")), case_id) != 0 ||
                            bk_json_number(bk_json_get(doc, "revision")) != revision))
        status =
            bk__refuse_archive(err, "a document of another case or revision than listed", "the listed one");
    if (status == BK_OK)
        status = bk__kept_make(doc, revision, made, err);
    bk_json_free(doc);
    if (status == BK_OK)
        return BK_OK;
    free(*text);
    *text = NULL;
    return bk_fail_in(err, member->name);
}

static bk_status take_revision(bk_import *m, const bk_json *item, const char *case_id, int revision,
                               const bk_kept_hashes *kept, bool *differs, bk_err *err)
{
    char *text = NULL;
    bk_kept made;
    bk_status status = read_revision(m, item, case_id, revision, &text, &made, err);
    if (status != BK_OK)
        return status;
    m->used++;
    if ((size_t)revision <= kept->n)
        *differs = strcmp(find_member(m, bk_json_text(bk_json_get(item, "member")))->sha256,
                          kept->sha256[revision - 1]) != 0;
    else
        status = bk__save_import(m, &made, text, bk_json_text(bk_json_get(item, "saved_at")), revision - 1,
                                 differs, err);
    free(text);
    bk__kept_clear(&made);
    return status;
}

static bk_status take_case(bk_import *m, const bk_json *item, bk_err *err)
{
    const char *case_id = bk_json_text(bk_json_get(item, "case_id"));
    const bk_json *revisions = bk_json_get(item, "revisions");
    const size_t n = bk_json_is_array(revisions) ? bk_json_count(revisions) : 0;
    bk_kept_hashes kept;
    bool differs = false;
    if (n == 0 || n > BK_ARCHIVE_MEMBERS_MAX || !case_id[0])
        return bk__refuse_archive(err, "a case without id or revisions", "one with both");
    bk_status status = bk__read_hashes(m->cases->store, case_id, &kept, err);
    if (status == BK_OK)
        status = bk__put_on_list(m->cases->store, case_id, kept.n, err);
    for (size_t i = 0; status == BK_OK && i < n && !differs; i++) {
        status = take_revision(m, bk_json_at(revisions, i), case_id, (int)i + 1, &kept, &differs, err);
        if (status == BK_OK && differs)
            bk__tell_import(m, case_id, (int)i + 1, "conflict");
    }
    m->conflict = m->conflict || differs;
    if (status == BK_OK && !differs)
        bk__tell_import(m, case_id, (int)(n > kept.n ? n : kept.n),
                        kept.n == 0  ? "new"
                        : n > kept.n ? "added"
                                     : "known");
    free(kept.sha256);
    return status;
}

bk_status bk__import_cines(bk_import *m, bk_err *err)
{
    char now[32], expected[80], sha256[65];
    bk_status status = BK_OK;
    bk_app_now(now);
    for (size_t i = 0; status == BK_OK && i < m->members.n; i++) {
        const bk_member *member = &m->members.items[i];
        bool is_new;
        snprintf(expected, sizeof expected, "cines/%s.dcm", member->sha256);
        if (strcmp(expected, member->name) != 0)
            continue;
        status =
            bk_store_put_cine(m->cases->store, member->path, now, bk__look_at_cine, sha256, &is_new, err);
        if (status != BK_OK)
            return bk_fail_in(err, "a cine of the archive");
        m->used++;
        m->cines_new += is_new;
        m->cines_known += !is_new;
    }
    return status;
}

bk_status bk__import_archive(bk_import *m, bk_err *err)
{
    const bk_json *list = bk_json_get(m->manifest, "cases");
    if (!bk_json_is_array(list) || bk_json_count(list) == 0)
        return bk__refuse_archive(err, "a manifest without cases", "their list");
    bk_status status = bk__import_cines(m, err);
    for (size_t i = 0; status == BK_OK && i < bk_json_count(list); i++)
        status = take_case(m, bk_json_at(list, i), err);
    if (status == BK_OK && !m->conflict && m->used != m->members.n)
        status = bk__refuse_archive(err, "a member that belongs to no case", "a revision or a cine");
    return status;
}
