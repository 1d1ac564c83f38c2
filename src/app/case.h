/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Use cases around the case document: make, check, change, add to. */
#ifndef BK_APP_CASE_H
#define BK_APP_CASE_H

#include "base/arena.h"
#include "base/json.h"
#include "core/case/facts.h"

/** Read a case file and check it against the field tables. *doc is the caller's, out lives in the arena. */
bk_status bk_app_case_read(const char *path, bk_arena *arena, bk_json **doc, bk_case *out, bk_err *err) BK_MUST_CHECK;

/** Check a document that is already in memory. */
bk_status bk_app_case_check(const bk_json *doc, bk_arena *arena, bk_case *out, bk_err *err) BK_MUST_CHECK;

/** Apply "PATH=VALUE" to a document. */
bk_status bk_app_case_set(bk_json *doc, const char *assignment, bk_err *err) BK_MUST_CHECK;

/** A random id for a new case: 16 hexadecimal digits. */
bk_status bk_app_case_new_id(char id[20], bk_err *err) BK_MUST_CHECK;

/** Every number of the bifurcation, decided once by the contract's precedence. */
bk_status bk_app_case_facts(const bk_case *c, bk_arena *arena, bk_facts *out, bk_err *err) BK_MUST_CHECK;

/** All measurement documents of a case, as many as c->measurements has; they live in the arena. */
bk_status bk_app_case_measured(const bk_case *c, bk_arena *arena, bk_measured **out, bk_err *err) BK_MUST_CHECK;

typedef struct bk_case_change {
    const char *path;
    bool is_new;              /* the file must not exist yet */
    const char *const *add;   /* measurement or solid documents */
    int add_n;
    const char *const *set;   /* PATH=VALUE */
    int set_n;
} bk_case_change;

/**
 * Change a case file, all or nothing; the revision grows by one when anything changed. *out is the document.
 * Errors: BK_E_USAGE the file exists (with is_new); BK_E_DATA a document of another patient, or of no known kind.
 */
bk_status bk_app_case_change(const bk_case_change *change, bk_json **out, bk_err *err) BK_MUST_CHECK;

#endif
