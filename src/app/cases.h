/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Use case: a place that keeps cases and cines. What server and command line call; src/store stands behind
 * it. */
#ifndef BK_APP_CASES_H
#define BK_APP_CASES_H

#include <stdbool.h>

#include "base/json.h"
#include "base/status.h"

typedef struct bk_cases bk_cases; /* one thread at a time */

/** Open, or make, the folder (NULL: $XDG_DATA_HOME/branchkeep, or ~/.local/share/branchkeep). */
bk_status bk_cases_open(const char *folder, bk_cases **out, bk_err *err) BK_MUST_CHECK;
void bk_cases_close(bk_cases *cases); /* NULL is fine */

/** branchkeep.cases/1: cases[{case_id, revision, saved_at, site, stage, cines, measured}], newest first. */
bk_status bk_cases_list(bk_cases *cases, bk_json **out, bk_err *err) BK_MUST_CHECK;
/** The case document at a revision (0: the newest). BK_E_NOTHING when there is none. */
bk_status bk_cases_load(bk_cases *cases, const char *case_id, int revision, bk_json **out,
                        bk_err *err) BK_MUST_CHECK;
/**
 * Save a new revision of a case document (document.case_id; made when absent). based_on: the revision it was
 * edited from, 0 for a new case. *out is {case_id, revision}; when another writer was first, *conflict is
 * true, nothing is saved and *out holds {case_id, revision, based_on, theirs, base}. Durable when it returns
 * BK_OK.
 */
bk_status bk_cases_save(bk_cases *cases, const bk_json *document, int based_on, bk_json **out, bool *conflict,
                        bk_err *err) BK_MUST_CHECK;
/** Keep a cine once, by content; sha256: 65 bytes for its name. The file is checked to be a DICOM file that
 * opens. */
bk_status bk_cases_put_cine(bk_cases *cases, const char *path, char sha256[65], bk_err *err) BK_MUST_CHECK;
/** branchkeep.cines/1: cines[{sha256, bytes, frames, rows, columns, primary_deg, secondary_deg, added_at}].
 */
bk_status bk_cases_cines(bk_cases *cases, bk_json **out, bk_err *err) BK_MUST_CHECK;
/** Path of a kept cine, its content checked against the name on first use; the caller frees *path. */
bk_status bk_cases_cine_path(bk_cases *cases, const char *sha256, char **path, bk_err *err) BK_MUST_CHECK;

/* ---- beyond what the server needs ---- */

/** As bk_cases_list; all: also the removed ones, with removed_at. */
bk_status bk_cases_list_all(bk_cases *cases, bool all, bk_json **out, bk_err *err) BK_MUST_CHECK;
/** branchkeep.revisions/1: case_id, removed_at, revisions[{revision, based_on, saved_at, sha256, bytes}],
 * oldest first. */
bk_status bk_cases_history(bk_cases *cases, const char *case_id, bk_json **out, bk_err *err) BK_MUST_CHECK;

typedef enum bk_removal { BK_REMOVE, BK_REMOVE_UNDO, BK_REMOVE_FOR_GOOD } bk_removal;
/** Off the list; back on it; or destroyed, with the cines that no other case names. */
bk_status bk_cases_remove(bk_cases *cases, const char *case_id, bk_removal how, bk_json **out,
                          bk_err *err) BK_MUST_CHECK;

/**
 * branchkeep.cases_check/1: sound, problems[], cases, revisions, cines, unlisted_files, copies_swept. Returns
 * BK_OK also when it is not sound: *sound says so.
 */
bk_status bk_cases_verify(bk_cases *cases, bool *sound, bk_json **out, bk_err *err) BK_MUST_CHECK;

/** A case with all revisions and its kept cines into a new archive. Errors: BK_E_USAGE the file exists. */
bk_status bk_cases_export(bk_cases *cases, const char *case_id, const char *file, bk_json **out,
                          bk_err *err) BK_MUST_CHECK;
/** Everything into a new archive: a consistent copy of the database, and every cine. */
bk_status bk_cases_backup(bk_cases *cases, const char *file, bk_json **out, bk_err *err) BK_MUST_CHECK;

/**
 * Take in a case document, an archive or a cine (told apart by content), all or nothing. branchkeep.import/1:
 * cases[{case_id, revision, outcome}], cines_new, cines_known; outcome is new, known (that revision is kept
 * already), added (new revisions follow the newest) or conflict: what is kept differs, and nothing was
 * imported. A document is known when it equals any kept revision, whatever its revision number. Else based_on
 * (0: not said) must name the newest revision, or it is a conflict: a document does not say what it was made
 * from. An archive is known or added when its history and the kept one agree as far as both go. A backup goes
 * into a folder without cases only (BK_E_USAGE). Errors: BK_E_DATA, BK_E_LIMIT bad content.
 */
bk_status bk_cases_import(bk_cases *cases, const char *file, int based_on, bool *conflict, bk_json **out,
                          bk_err *err) BK_MUST_CHECK;

#endif
