/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files of this room share. */
#ifndef BK_STORE_INSIDE_H
#define BK_STORE_INSIDE_H

#include <sqlite3.h>

#include "store/store.h"

typedef struct bk_seen_cine { /* checked in this run */
    char sha256[65];
    int64_t bytes, changed_ns;
    uint64_t file_number;
} bk_seen_cine;

struct bk_store {
    sqlite3 *db;
    char *folder, *file; /* of the database */
    int depth;           /* of bk_store_begin */
    bool other;          /* another database is attached: until the end of the transaction */
    bool is_new;         /* the database file was made by this call */
    bk_seen_cine *seen;
    size_t seen_n;
    char *
        *placed; /* cine files that the present transaction has put in place: gone again when it is undone */
    size_t placed_n;
    long fail_at;
};

/* ---- SQL (sql.c) ---- */

/** One line for a result code of SQLite: what it means for the user. */
bk_status bk__sql_fail(bk_store *store, int code, bk_err *err);
/** Statements without parameters and rows. */
bk_status bk__sql_run(bk_store *store, const char *sql, bk_err *err) BK_MUST_CHECK;
/**
 * A statement with its parameters bound: kinds has a letter each, 't' const char * (NULL: null), 'i' int64_t.
 * Texts are borrowed until the statement is finalized. NULL on failure.
 */
sqlite3_stmt *bk__sql_start(bk_store *store, bk_err *err, const char *sql, const char *kinds,
                            ...) BK_MUST_CHECK;
/** Next row: *row false when there is none. */
bk_status bk__sql_step(bk_store *store, sqlite3_stmt *statement, bool *row, bk_err *err) BK_MUST_CHECK;
/** A statement that gives no rows: run and finalize it (NULL: the failure of bk__sql_start). */
bk_status bk__sql_finish(bk_store *store, sqlite3_stmt *statement, bk_err *err) BK_MUST_CHECK;
/** A statement that gives one whole number: *out stays when there is no row. Finalizes. */
bk_status bk__sql_number(bk_store *store, sqlite3_stmt *statement, int64_t *out, bk_err *err) BK_MUST_CHECK;
/** Let go of the database that bk_store_take_over attached, if any. */
void bk__detach_other(bk_store *store);
/** Text of a column; "" for null too: in a damaged file, a column that cannot be null can. */
const char *bk__sql_text(sqlite3_stmt *statement, int column);

/* ---- migrations (migrate.c) ---- */

bk_status bk__migrate(bk_store *store, bk_err *err) BK_MUST_CHECK;
/** Whether tables, indices and triggers are, word for word, those that the steps make. */
bk_status bk__schema_is_ours(bk_store *store, bool *ours, bk_err *err) BK_MUST_CHECK;

/* ---- files (files.c) ---- */

/** "A/B" on the heap; NULL and an error when out of memory. */
char *bk__join(const char *folder, const char *name, bk_err *err) BK_MUST_CHECK;
/** "PATH cannot be WHAT: system's reason". */
bk_status bk__io_fail(bk_err *err, const char *what, const char *path);
/** A folder and those above it, mode 0700; there already: fine. */
bk_status bk__make_folders(const char *path, bk_err *err) BK_MUST_CHECK;
/** What was renamed, made or removed in a folder is on disk. */
bk_status bk__sync_folder(const char *path, bk_err *err) BK_MUST_CHECK;
/** Copy a file's bytes to an open descriptor, sync it, hash what was written. */
bk_status bk__copy(const char *from, int to, const char *to_name, char sha256[65], int64_t *bytes,
                   bk_err *err) BK_MUST_CHECK;
/** True when this step is to fail (bk_store_fail_at); err is filled. */
bool bk__trips(bk_store *store, bk_err *err);
/** True: whoever made this copy or work folder is gone (its lock can be had), and it has been removed. */
bool bk__sweep(const char *folder, const char *name);
/** Remove a folder and the files in it (no deeper). */
void bk__remove_folder(const char *path);
#define BK__COPY_PREFIX ".new-"
#define BK__WORK_PREFIX ".work-"

/* ---- cines (cines.c) ---- */

/** Folder and path a cine has; free both. */
bk_status bk__cine_place(const bk_store *store, const char *sha256, char **folder, char **path,
                         bk_err *err) BK_MUST_CHECK;
/** Forget the files placed in this transaction; kept false: remove them first. */
void bk__placed_end(bk_store *store, bool kept);
/** Content of a kept cine against its row: BK_E_IO says how it is broken. */
bk_status bk__cine_check(const char *path, const char *sha256, int64_t bytes, bk_err *err) BK_MUST_CHECK;
/** The same, once a run and after each change of the file. */
bk_status bk__check_once(bk_store *store, const char *path, const char *sha256, int64_t bytes,
                         bk_err *err) BK_MUST_CHECK;
/** The file at path was found to be this cine just now. */
void bk__seen_now(bk_store *store, const char *path, const char *sha256);

#endif
