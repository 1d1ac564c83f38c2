/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files about importing share: cases_import.c tells a file's kind, one file each takes a document,
   an archive of a case, a backup. All of them work inside one transaction, which cases_import.c ends. */
#ifndef BK_APP_CASES_IMPORT_H
#define BK_APP_CASES_IMPORT_H

#include "app/cases_inside.h"
#include "store/archive_file.h"

typedef struct bk_import {
    bk_cases *cases;
    const bk_json *manifest;
    bk_members members;
    size_t used;   /* members that belong to something */
    bk_json *list; /* cases of the answer */
    int64_t cines_new, cines_known;
    bool conflict;
} bk_import;

typedef struct bk_kept_hashes {
    char (*sha256)[65]; /* of revision 1, 2, ... */
    size_t n;
} bk_kept_hashes;

/** A case document; based_on 0: not said. Errors: BK_E_USAGE, BK_E_DATA. */
bk_status bk__import_document(bk_import *m, const bk_json *doc, int based_on, bk_err *err) BK_MUST_CHECK;
/** An unpacked archive of cases. Errors: BK_E_DATA. */
bk_status bk__import_archive(bk_import *m, bk_err *err) BK_MUST_CHECK;
/** A backup unpacked into folder. Errors: BK_E_USAGE there are cases already; BK_E_DATA. */
bk_status bk__import_backup(bk_import *m, const char *folder, bk_err *err) BK_MUST_CHECK;
/** The cines among the members. */
bk_status bk__import_cines(bk_import *m, bk_err *err) BK_MUST_CHECK;

/** None when the case is not kept; sha256 is freed with free(). */
bk_status bk__read_hashes(bk_store *store, const char *case_id, bk_kept_hashes *out,
                          bk_err *err) BK_MUST_CHECK;
/** One case of the answer. */
void bk__tell_import(bk_import *m, const char *case_id, int revision, const char *outcome);
/** What is imported is wanted on the list; kept: revisions that are kept of it. */
bk_status bk__put_on_list(bk_store *store, const char *case_id, size_t kept, bk_err *err) BK_MUST_CHECK;
bk_status bk__save_import(bk_import *m, const bk_kept *kept, const char *text, const char *saved_at,
                          int based_on, bool *conflict, bk_err *err) BK_MUST_CHECK;
/** "FOUND was found in the archive, EXPECTED was expected". */
bk_status bk__refuse_archive(bk_err *err, const char *found, const char *expected);

#endif
