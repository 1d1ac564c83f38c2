/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The place where cases and cines are kept: one folder with a SQLite database and the cines as files. It
   knows nothing of what a document means: documents and summaries are texts, times come from the caller. One
   thread at a time; several processes may use one folder. Layout and promises: docs/store.md. Errors of every
   function: BK_E_IO when the system or the database refuses (one line says what), BK_E_INTERNAL out of
   memory; others are named. Whatever fails leaves what was there before. */
#ifndef BK_STORE_STORE_H
#define BK_STORE_STORE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/status.h"

typedef struct bk_store bk_store;

#define BK_STORE_ID_MAX 47                                  /* bytes of a case id */
#define BK_STORE_DOCUMENT_MAX ((size_t)64 * 1024 * 1024)    /* bytes of a document */
#define BK_STORE_CINE_MAX ((int64_t)2 * 1024 * 1024 * 1024) /* bytes of a cine */

/**
 * Open, or make (mode 0700), the folder, and bring its database to this program's version.
 * Errors: BK_E_IO also when the path is a file, the database is damaged, of another program, or of a newer
 * version.
 */
bk_status bk_store_open(const char *folder, bk_store **out, bk_err *err) BK_MUST_CHECK;
void bk_store_close(bk_store *store); /* NULL is fine */
const char *bk_store_folder(const bk_store *store);

/**
 * Several calls as one: all of them or none. write: others wait until it ends; else: one unchanging view for
 * reading. May be nested; only the outermost counts. bk_store_end keeps everything when status is BK_OK, else
 * undoes it and returns status.
 */
bk_status bk_store_begin(bk_store *store, bool write, bk_err *err) BK_MUST_CHECK;
bk_status bk_store_end(bk_store *store, bk_status status, bk_err *err) BK_MUST_CHECK;

/* ---- cases and their revisions ---- */

typedef struct bk_store_row { /* valid while the callback runs */
    const char *case_id;
    int revision, based_on;
    const char *saved_at, *sha256, *summary;
    int64_t bytes;          /* of the document */
    int64_t cines;          /* kept cines that the case names */
    const char *removed_at; /* NULL: it is on the list */
    const char *document;   /* NULL where only listed */
} bk_store_row;
typedef bk_status (*bk_store_each)(void *context, const bk_store_row *row, bk_err *err);

/** The newest revision of each case that is not removed (all: also of those), last saved first; without
 * documents. */
bk_status bk_store_list(bk_store *store, bool all, bk_store_each each, void *context,
                        bk_err *err) BK_MUST_CHECK;
/** Every revision of a case, oldest first; without documents. BK_E_NOTHING: no such case. */
bk_status bk_store_history(bk_store *store, const char *case_id, bk_store_each each, void *context,
                           bk_err *err) BK_MUST_CHECK;
/**
 * One revision (0: the newest) with its document, whose hash is checked. BK_E_NOTHING: no such case or
 * revision, or the newest of a removed case was asked for.
 */
bk_status bk_store_load(bk_store *store, const char *case_id, int revision, bk_store_each each, void *context,
                        bk_err *err) BK_MUST_CHECK;

typedef struct bk_store_entry {
    const char *case_id;  /* 1..BK_STORE_ID_MAX bytes */
    int based_on;         /* revision it was made from; 0: a new case. It becomes revision based_on + 1 */
    const char *saved_at; /* ISO, UTC */
    const char *summary, *document;
    const char *const *cines; /* hashes of the cines it names, kept or not */
    size_t cines_n;
} bk_store_entry;

/**
 * Add a revision; on disk when this returns BK_OK (or when the outermost bk_store_end does). *conflict:
 * another revision than based_on is the newest, nothing was saved. BK_E_NOTHING: based_on is no revision of
 * the case, or it is removed.
 */
bk_status bk_store_save(bk_store *store, const bk_store_entry *entry, bool *conflict,
                        bk_err *err) BK_MUST_CHECK;
/** Newest revision of a case, removed or not; 0 when there is none. */
bk_status bk_store_newest(bk_store *store, const char *case_id, int *revision, bool *removed,
                          bk_err *err) BK_MUST_CHECK;

/** Take a case off the list (at: ISO time), or put it back (at NULL). BK_E_NOTHING: no such case. */
bk_status bk_store_remove(bk_store *store, const char *case_id, const char *at, bk_err *err) BK_MUST_CHECK;
/** Destroy a case with its revisions, and the cines that no other case names. BK_E_NOTHING: no such case. */
bk_status bk_store_destroy(bk_store *store, const char *case_id, int *cines, bk_err *err) BK_MUST_CHECK;

/* ---- cines ---- */

/* Looks at the kept copy; *summary is freed by the store. */
typedef bk_status (*bk_store_look)(const char *path, char **summary, bk_err *err);

/** 64 lower-case hexadecimal digits. */
bool bk_store_is_sha256(const char *text);

/**
 * Keep a copy of a file under the hash of its content; *is_new false: it was there. look decides on the copy
 * whether it is kept. A kept file that has gone or is damaged is replaced.
 */
bk_status bk_store_put_cine(bk_store *store, const char *path, const char *added_at, bk_store_look look,
                            char sha256[65], bool *is_new, bk_err *err) BK_MUST_CHECK;
/** Path of a kept cine (free it), content checked once a run and after each change. BK_E_NOTHING: none;
 * BK_E_IO: broken. */
bk_status bk_store_cine_path(bk_store *store, const char *sha256, char **path, bk_err *err) BK_MUST_CHECK;

typedef struct bk_store_cine {
    const char *sha256, *summary, *added_at;
    int64_t bytes;
} bk_store_cine;
typedef bk_status (*bk_store_each_cine)(void *context, const bk_store_cine *cine, bk_err *err);
/** All cines, or those that a case names (case_id not NULL), last added first. */
bk_status bk_store_cines(bk_store *store, const char *case_id, bk_store_each_cine each, void *context,
                         bk_err *err) BK_MUST_CHECK;

/* ---- care ---- */

typedef struct bk_store_check {
    void (*problem)(void *context, const char *text);
    void *context;
    bool rows_only; /* in: leave the files alone */
    int64_t cases, revisions, cines, unlisted_files, copies_swept;
} bk_store_check;
/**
 * Check the database (integrity, references), the hash of every document and every cine; each fault goes to
 * problem. Half-made copies that no living process holds are swept. BK_OK also when there are problems.
 */
bk_status bk_store_verify(bk_store *store, bk_store_check *check, bk_err *err) BK_MUST_CHECK;

/** A new folder inside the store's for unfinished work; the caller ends it with bk_store_work_end, which
 * removes it. */
typedef struct bk_store_work {
    char *folder;
    int lock;
} bk_store_work;
bk_status bk_store_work_new(bk_store *store, bk_store_work *work, bk_err *err) BK_MUST_CHECK;
void bk_store_work_end(bk_store_work *work);

/** Write a consistent copy of the database into a folder that has none: that folder then is a store without
 * cines. */
bk_status bk_store_snapshot(bk_store *store, const char *folder, bk_err *err) BK_MUST_CHECK;
/**
 * Take over every row of another store's database (its folder; opened and checked before). The cines must
 * have been put. BK_E_USAGE: this store already holds cases.
 */
bk_status bk_store_take_over(bk_store *store, const char *folder, bk_err *err) BK_MUST_CHECK;
/** Name of the database file inside a store's folder. */
extern const char bk_store_database[];

/** Test hook: the n-th step of the database or of the file system from now fails; 0: never. */
void bk_store_fail_at(bk_store *store, long n);

#endif
