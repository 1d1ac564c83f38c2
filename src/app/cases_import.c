/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A document or an archive into the store: looked through first, then everything in one transaction. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/cases_inside.h"
#include "base/file.h"
#include "base/format.h"
#include "store/archive_file.h"

typedef struct import {
    bk_cases *cases;
    const bk_json *manifest;
    bk_members members;
    size_t used;   /* members that belong to something */
    bk_json *list; /* cases of the answer */
    int64_t cines_new, cines_known;
    bool conflict;
} import;

typedef struct kept_hashes {
    char (*sha256)[65]; /* of revision 1, 2, ... */
    size_t n;
} kept_hashes;

static bk_status add_hash(void *context, const bk_store_row *row, bk_err *err)
{
    kept_hashes *kept = context;
    char(*larger)[65] = realloc(kept->sha256, (kept->n + 1) * sizeof *larger);
    if (!larger)
        return bk_fail(err, BK_E_INTERNAL, "out of memory for %zu hashes", kept->n + 1);
    kept->sha256 = larger;
    bk_format(kept->sha256[kept->n++], 65, "%s", row->sha256);
    return BK_OK;
}

/* None when the case is not kept. */
static bk_status read_hashes(bk_store *store, const char *case_id, kept_hashes *out, bk_err *err)
{
    bk_err absent = {0};
    *out = (kept_hashes){0};
    const bk_status status = bk_store_history(store, case_id, add_hash, out, &absent);
    if (status == BK_OK || status == BK_E_NOTHING)
        return BK_OK;
    return bk_fail(err, status, "%s", absent.message);
}

static void tell(import *m, const char *case_id, int revision, const char *outcome)
{
    bk_json *item = bk_json_object();
    bk_json_put_text(item, "case_id", case_id);
    bk_json_put_integer(item, "revision", revision);
    bk_json_put_text(item, "outcome", outcome);
    bk_json_push(m->list, item);
}

/* What is imported is wanted on the list. */
static bk_status put_on_list(bk_store *store, const char *case_id, size_t kept, bk_err *err)
{
    return kept > 0 ? bk_store_remove(store, case_id, NULL, err) : BK_OK;
}

static bk_status save(import *m, const bk_kept *kept, const char *text, const char *saved_at, int based_on,
                      bool *conflict, bk_err *err)
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

/* ---- a document ---- */

/* The kept revision that a document equals, its own revision number aside; 0: none. */
static bk_status find_equal(const bk_json *doc, const kept_hashes *kept, int *found, bk_err *err)
{
    bk_status status = BK_OK;
    *found = 0;
    for (size_t i = kept->n; status == BK_OK && i > 0 && *found == 0; i--) {
        bk_json *copy = bk_json_copy(doc);
        char *text, sha256[65];
        size_t n;
        bk_json_put_integer(copy, "revision", (int64_t)i);
        status = bk_json_write(copy, &text, &n, err);
        if (status == BK_OK) {
            bk_sha256(text, n, sha256);
            bk_json_text_free(text);
            *found = strcmp(sha256, kept->sha256[i - 1]) == 0 ? (int)i : 0;
        }
        bk_json_free(copy);
    }
    return status;
}

static bk_status save_document(import *m, const bk_json *doc, int based_on, size_t kept_n, bk_err *err)
{
    bk_kept made;
    char now[32];
    bk__now(now);
    bk_status status = bk__kept_make(doc, based_on + 1, &made, err);
    if (status != BK_OK)
        return status;
    status = put_on_list(m->cases->store, bk__kept_id(&made), kept_n, err);
    if (status == BK_OK)
        status = save(m, &made, made.text, now, based_on, &m->conflict, err);
    if (status == BK_OK)
        tell(m, bk__kept_id(&made), m->conflict ? (int)kept_n : based_on + 1,
             m->conflict ? "conflict"
             : kept_n    ? "added"
                         : "new");
    bk__kept_clear(&made);
    return status;
}

static bk_status take_document(import *m, const bk_json *doc, int based_on, bk_err *err)
{
    bk_kept made;
    kept_hashes kept = {0};
    int equal = 0;
    bk_status status = bk__kept_make(doc, 1, &made, err); /* with its id, if it had none */
    if (status != BK_OK)
        return status;
    const char *case_id = bk__kept_id(&made);
    status = read_hashes(m->cases->store, case_id, &kept, err);
    if (status == BK_OK)
        status = find_equal(made.doc, &kept, &equal, err);
    if (status == BK_OK && equal > 0) {
        status = put_on_list(m->cases->store, case_id, kept.n, err);
        tell(m, case_id, equal, "known");
    } else if (status == BK_OK && kept.n == 0 && based_on > 0) {
        status = bk_fail(err, BK_E_USAGE,
                         "--based-on %d was found for a new case, no such option was expected", based_on);
    } else if (status == BK_OK) {
        status = save_document(m, made.doc, based_on, kept.n, err);
    }
    free(kept.sha256);
    bk__kept_clear(&made);
    return status;
}

/* ---- an archive ---- */

static bk_status refuse(bk_err *err, const char *found, const char *expected)
{
    return bk_fail(err, BK_E_DATA, "%s was found in the archive, %s was expected", found, expected);
}

static const bk_member *find_member(const import *m, const char *name)
{
    for (size_t i = 0; i < m->members.n; i++)
        if (strcmp(m->members.items[i].name, name) == 0)
            return &m->members.items[i];
    return NULL;
}

/* Bytes as they were kept, so that their hash stays; JSON has no zero byte, so the text is whole. */
static bk_status read_revision(const import *m, const bk_json *item, const char *case_id, int revision,
                               char **text, bk_kept *made, bk_err *err)
{
    const bk_member *member = find_member(m, bk_json_text(bk_json_get(item, "member")));
    bk_json *doc = NULL;
    size_t n;
    if (!member || bk_json_number(bk_json_get(item, "revision")) != revision ||
        !bk_json_text(bk_json_get(item, "saved_at"))[0])
        return refuse(err, "a case whose revisions do not count from 1, or lack member or saved_at",
                      "a whole history");
    bk_status status = bk_file_read(member->path, BK_STORE_DOCUMENT_MAX, text, &n, err);
    if (status == BK_OK)
        status = bk_json_read(*text, n, &doc, err);
    if (status == BK_OK && (strcmp(bk_json_text(bk_json_get(doc, "case_id")), case_id) != 0 ||
                            bk_json_number(bk_json_get(doc, "revision")) != revision))
        status = refuse(err, "a document of another case or revision than listed", "the listed one");
    if (status == BK_OK)
        status = bk__kept_make(doc, revision, made, err);
    bk_json_free(doc);
    if (status == BK_OK)
        return BK_OK;
    free(*text);
    *text = NULL;
    return bk_fail_in(err, member->name);
}

static bk_status take_revision(import *m, const bk_json *item, const char *case_id, int revision,
                               const kept_hashes *kept, bool *differs, bk_err *err)
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
        status =
            save(m, &made, text, bk_json_text(bk_json_get(item, "saved_at")), revision - 1, differs, err);
    free(text);
    bk__kept_clear(&made);
    return status;
}

static bk_status take_case(import *m, const bk_json *item, bk_err *err)
{
    const char *case_id = bk_json_text(bk_json_get(item, "case_id"));
    const bk_json *revisions = bk_json_get(item, "revisions");
    const size_t n = bk_json_is_array(revisions) ? bk_json_count(revisions) : 0;
    kept_hashes kept;
    bool differs = false;
    if (n == 0 || n > BK_ARCHIVE_MEMBERS_MAX || !case_id[0])
        return refuse(err, "a case without id or revisions", "one with both");
    bk_status status = read_hashes(m->cases->store, case_id, &kept, err);
    if (status == BK_OK)
        status = put_on_list(m->cases->store, case_id, kept.n, err);
    for (size_t i = 0; status == BK_OK && i < n && !differs; i++) {
        status = take_revision(m, bk_json_at(revisions, i), case_id, (int)i + 1, &kept, &differs, err);
        if (status == BK_OK && differs)
            tell(m, case_id, (int)i + 1, "conflict");
    }
    m->conflict = m->conflict || differs;
    if (status == BK_OK && !differs)
        tell(m, case_id, (int)(n > kept.n ? n : kept.n),
             kept.n == 0  ? "new"
             : n > kept.n ? "added"
                          : "known");
    free(kept.sha256);
    return status;
}

static bk_status take_cines(import *m, bk_err *err)
{
    char now[32], expected[80], sha256[65];
    bk_status status = BK_OK;
    bk__now(now);
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

static bk_status take_archive(import *m, bk_err *err)
{
    const bk_json *list = bk_json_get(m->manifest, "cases");
    if (!bk_json_is_array(list) || bk_json_count(list) == 0)
        return refuse(err, "a manifest without cases", "their list");
    bk_status status = take_cines(m, err);
    for (size_t i = 0; status == BK_OK && i < bk_json_count(list); i++)
        status = take_case(m, bk_json_at(list, i), err);
    if (status == BK_OK && !m->conflict && m->used != m->members.n)
        status = refuse(err, "a member that belongs to no case", "a revision or a cine");
    return status;
}

/* ---- a backup ---- */

static bk_status list_restored(void *context, const bk_store_row *row, bk_err *err)
{
    (void)err;
    tell(context, row->case_id, row->revision, "new");
    return BK_OK;
}

static bk_status count_cine(void *context, const bk_store_cine *cine, bk_err *err)
{
    (void)cine;
    (void)err;
    ++*(int64_t *)context;
    return BK_OK;
}

static void note_problem(void *context, const char *text)
{
    bk_err *first = context;
    bk_fail(first, BK_E_DATA, "%s", text);
}

/* A message about the database names it by where it was unpacked, which helps nobody. */
static const char *without_folder(const char *message)
{
    const char *name = strstr(message, bk_store_database);
    return name ? name : message;
}

/* The database of a backup is as strange as any file: opened with the guards of bk_store_open, then checked.
 */
static bk_status check_database(import *m, const char *folder, int64_t *cines, bk_err *err)
{
    bk_store *other;
    bk_err found = {0}, problem = {0};
    bk_store_check check = {.problem = note_problem, .context = &problem, .rows_only = true};
    bk_status status = bk_store_open(folder, &other, &found);
    if (status == BK_OK) {
        status = bk_store_verify(other, &check, &found);
        if (status == BK_OK)
            status = bk_store_cines(other, NULL, count_cine, cines, &found);
        if (status == BK_OK)
            status = bk_store_list(other, true, list_restored, m, &found);
        bk_store_close(other);
    }
    if (status != BK_OK || problem.status != BK_OK)
        return bk_fail(err, BK_E_DATA, "a database that cannot be used was found in the backup: %.150s",
                       status != BK_OK ? without_folder(found.message) : problem.message);
    return BK_OK;
}

static bk_status take_backup(import *m, const char *folder, bk_err *err)
{
    int64_t cines = 0;
    if (m->members.n == 0 || strcmp(m->members.items[0].name, bk_store_database) != 0)
        return refuse(err, "a backup without its database", bk_store_database);
    const size_t room = strlen(folder) + strlen(bk_store_database) + 2;
    char *path = malloc(room);
    if (!path)
        return bk_fail(err, BK_E_INTERNAL, "out of memory at %zu bytes", room);
    snprintf(path, room, "%s/%s", folder, bk_store_database);
    bk_status status = rename(m->members.items[0].path, path) == 0
                           ? check_database(m, folder, &cines, err)
                           : bk_fail(err, BK_E_IO, "%s cannot be written, a file was expected", path);
    free(path);
    m->used = 1;
    if (status == BK_OK)
        status = take_cines(m, err);
    if (status == BK_OK && (m->used != m->members.n || m->cines_new + m->cines_known != cines))
        status = refuse(err, "a backup with other cines than its database lists", "a whole one");
    return status == BK_OK ? bk_store_take_over(m->cases->store, folder, err) : status;
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

static bk_status import_cine(import *m, const char *file, bk_err *err)
{
    char now[32], sha256[65];
    bool is_new;
    bk__now(now);
    const bk_status status =
        bk_store_put_cine(m->cases->store, file, now, bk__look_at_cine, sha256, &is_new, err);
    m->cines_new = status == BK_OK && is_new;
    m->cines_known = status == BK_OK && !is_new;
    return status;
}

/* Ends the transaction; a conflict is an answer, but nothing may stay of it. */
static bk_status end(import *m, bk_status status, bk_err *err)
{
    const bk_status kept = bk_store_end(m->cases->store, m->conflict ? BK_E_NOTHING : status, err);
    return m->conflict ? status : kept;
}

static bk_status import_document(import *m, const char *file, int based_on, bk_err *err)
{
    bk_json *doc;
    bk_status status = bk_json_read_file(file, &doc, err);
    if (status != BK_OK)
        return status;
    status = bk_store_begin(m->cases->store, true, err);
    if (status == BK_OK)
        status = end(m, take_document(m, doc, based_on, err), err);
    bk_json_free(doc);
    return status == BK_E_DATA ? bk_fail_in(err, file) : status;
}

static bk_status import_unpacked(import *m, const char *folder, bk_err *err)
{
    const char *holds = bk_json_text(bk_json_get(m->manifest, "holds"));
    if (strcmp(holds, "backup") == 0)
        return take_backup(m, folder, err);
    if (strcmp(holds, "case") == 0)
        return take_archive(m, err);
    return refuse(err, "a manifest that holds neither \"case\" nor \"backup\"", "one of them");
}

static bk_status import_archive(import *m, const char *file, const char *folder, bk_err *err)
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

static bk_status import_file(import *m, const char *file, int based_on, bk_err *err)
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
import m = {.cases = cases, .list = bk_json_array() };
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
