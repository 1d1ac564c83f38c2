/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A document, an archive or a cine into the store: looked through first, then all in one transaction. */
#include "app/app.h"
#include "app/cases_import.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/format.h"

/* ---- what all kinds need ---- */

static bk_status add_hash(void *context, const bk_store_row *row, bk_err *err)
{
    bk_kept_hashes *kept = context;
    char(*larger)[65] = realloc(kept->sha256, (kept->n + 1) * sizeof *larger);
    if (!larger)
        return bk_fail(err, BK_E_INTERNAL, "out of memory for %zu hashes", kept->n + 1);
    kept->sha256 = larger;
    bk_format(kept->sha256[kept->n++], 65, "%s", row->sha256);
    return BK_OK;
}

bk_status bk__read_hashes(bk_store *store, const char *case_id, bk_kept_hashes *out, bk_err *err)
{
    bk_err absent = {0};
    *out = (bk_kept_hashes){0};
    const bk_status status = bk_store_history(store, case_id, add_hash, out, &absent);
    if (status == BK_OK || status == BK_E_NOTHING)
        return BK_OK;
    return bk_fail(err, status, "%s", absent.message);
}

void bk__tell_import(bk_import *m, const char *case_id, int revision, const char *outcome)
{
    bk_json *item = bk_json_object();
    bk_json_put_text(item, "case_id", case_id);
    bk_json_put_integer(item, "revision", revision);
    bk_json_put_text(item, "outcome", outcome);
    bk_json_push(m->list, item);
}

bk_status bk__put_on_list(bk_store *store, const char *case_id, size_t kept, bk_err *err)
{
    return kept > 0 ? bk_store_remove(store, case_id, NULL, err) : BK_OK;
}

bk_status bk__save_import(bk_import *m, const bk_kept *kept, const char *text, const char *saved_at,
                          int based_on, bool *conflict, bk_err *err)
{
    const bk_store_entry entry = {
        .case_id = bk__kept_id(kept),
        .based_on = based_on,
        .saved_at = saved_at,
        .summary = kept->summary,
        .document = text,
        .cines = kept->cines,
        .cines_n = kept->cines_n,
    };
    return bk_store_save(m->cases->store, &entry, conflict, err);
}

bk_status bk__refuse_archive(bk_err *err, const char *found, const char *expected)
{
    return bk_fail(err, BK_E_DATA, "%s was found in the archive, %s was expected", found, expected);
}

/* ---- all of it ---- */

enum kind { DOCUMENT, CINE, ARCHIVE };

/* By content: JSON begins with a brace, DICOM has its mark behind 128 bytes (PS3.10, 7.1). */
static bk_status kind_of(const char *file, enum kind *kind, bk_err *err)
{
    char head[132] = "";
    FILE *in = fopen(file, "rbe");
    if (!in)
        return bk_fail(err, BK_E_IO, "%s cannot be read, a case document, an archive or a cine was expected",
                       file);
    const size_t n = fread(head, 1, sizeof head, in);
    const bool failed = ferror(in) != 0;
    fclose(in);
    if (failed)
        return bk_fail(err, BK_E_IO, "%s cannot be read, a case document, an archive or a cine was expected",
                       file);
    size_t at = 0;
    while (at < n && head[at] && strchr(" \t\r\n", head[at]))
        at++;
    *kind = at == n || head[at] == '{' ? DOCUMENT : ARCHIVE;
    if (n == sizeof head && memcmp(head + 128, "DICM", 4) == 0)
        *kind = CINE;
    return BK_OK;
}

static bk_status import_cine(bk_import *m, const char *file, bk_err *err)
{
    char now[32], sha256[65];
    bool is_new;
    bk_app_now(now);
    const bk_status status =
        bk_store_put_cine(m->cases->store, file, now, bk__look_at_cine, sha256, &is_new, err);
    m->cines_new = status == BK_OK && is_new;
    m->cines_known = status == BK_OK && !is_new;
    return status;
}

/* Ends the transaction; a conflict is an answer, but nothing may stay of it. */
static bk_status end(bk_import *m, bk_status status, bk_err *err)
{
    const bk_status kept = bk_store_end(m->cases->store, m->conflict ? BK_E_NOTHING : status, err);
    return m->conflict ? status : kept;
}

static bk_status import_document(bk_import *m, const char *file, int based_on, bk_err *err)
{
    bk_json *doc;
    bk_status status = bk_json_read_file(file, &doc, err);
    if (status != BK_OK)
        return status;
    status = bk_store_begin(m->cases->store, true, err);
    if (status == BK_OK)
        status = end(m, bk__import_document(m, doc, based_on, err), err);
    bk_json_free(doc);
    return status == BK_E_DATA ? bk_fail_in(err, file) : status;
}

static bk_status import_unpacked(bk_import *m, const char *folder, bk_err *err)
{
    const char *holds = bk_json_text(bk_json_get(m->manifest, "holds"));
    if (strcmp(holds, "backup") == 0)
        return bk__import_backup(m, folder, err);
    if (strcmp(holds, "case") == 0)
        return bk__import_archive(m, err);
    return bk__refuse_archive(err, "a manifest that holds neither \"case\" nor \"backup\"", "one of them");
}

static bk_status import_archive(bk_import *m, const char *file, const char *folder, bk_err *err)
{
    bk_json *manifest;
    bk_status status = bk_archive_unpack(file, folder, &manifest, &m->members, err);
    if (status != BK_OK)
        return status;
    m->manifest = manifest;
    status = bk_store_begin(m->cases->store, true, err);
    if (status == BK_OK)
        status = end(m, import_unpacked(m, folder, err), err);
    if (status == BK_E_DATA)
        bk_fail_in(err, file);
    bk_members_clear(&m->members);
    bk_json_free(manifest);
    return status;
}

static bk_status import_file(bk_import *m, const char *file, int based_on, bk_err *err)
{
    enum kind kind = DOCUMENT;
    bk_store_work work;
    bk_status status = kind_of(file, &kind, err);
    if (status == BK_OK && kind != DOCUMENT && based_on > 0)
        return bk_fail(err, BK_E_USAGE,
                       "--based-on was found with an archive or a cine, a case document was expected");
    if (status == BK_OK && kind == DOCUMENT)
        return import_document(m, file, based_on, err);
    if (status == BK_OK && kind == CINE)
        return import_cine(m, file, err);
    if (status == BK_OK)
        status = bk_store_work_new(m->cases->store, &work, err);
    if (status != BK_OK)
        return status;
    status = import_archive(m, file, work.folder, err);
    bk_store_work_end(&work);
    return status;
}

bk_status bk_cases_import(bk_cases *cases, const char *file, int based_on, bool *conflict, bk_json **out,
                          bk_err *err)
{
    bk_import m = {.cases = cases, .list = bk_json_array()};
    *out = NULL;
    const bk_status status = import_file(&m, file, based_on, err);
    *conflict = m.conflict;
    if (status != BK_OK) {
        bk_json_free(m.list);
        return status;
    }
    *out = bk_json_object();
    bk_json_put_text(*out, "schema", "branchkeep.import/1");
    bk_json_put(*out, "cases", m.list);
    bk_json_put_integer(*out, "cines_new", m.conflict ? 0 : m.cines_new);
    bk_json_put_integer(*out, "cines_known", m.cines_known);
    return BK_OK;
}
