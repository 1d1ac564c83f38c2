/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A case document: the JSON as it is kept, and the structs that answers work from, always in step.
   Parts of the document that no table describes are kept as they are. */
#ifndef BK_APP_CASE_DOC_H
#define BK_APP_CASE_DOC_H

#include "base/arena.h"
#include "base/json.h"
#include "core/case/facts.h"

#define BK_CASE_SCHEMA "branchkeep.case/1"
#define BK_MEASUREMENT_SCHEMA "branchkeep.measurement/1"
#define BK_SOLID_SCHEMA "branchkeep.solid/1"

typedef struct bk_case_doc {
    bk_json *json;
    bk_arena arena; /* holds everything below */
    bk_case input;
    bk_measured *measured;
    size_t measured_n;
    bk_solid *solid; /* NULL: none */
} bk_case_doc;

/** Read and check a file. Errors: BK_E_IO, BK_E_DATA with file and path inside it; *doc is empty then. */
bk_status bk_case_open(const char *path, bk_case_doc *doc, bk_err *err) BK_MUST_CHECK;
/** Take over a JSON document (also on failure) and check it. */
bk_status bk_case_take(bk_json *json, bk_case_doc *doc, bk_err *err) BK_MUST_CHECK;
/** A new, empty case with a random id and revision 1. */
bk_status bk_case_start(bk_case_doc *doc, bk_err *err) BK_MUST_CHECK;
/** Free it; safe on an empty one, and twice. */
void bk_case_close(bk_case_doc *doc);

/**
 * Apply "PATH=VALUE" texts in order. All or none: on failure the document is as before.
 * Errors: BK_E_USAGE no '=' or no such path; BK_E_DATA a value that is refused.
 */
bk_status bk_case_set(bk_case_doc *doc, const char *const *settings, int n, bk_err *err) BK_MUST_CHECK;
/** Append a measurement file, or set the solid. Errors: BK_E_IO, BK_E_DATA another schema or another patient.
 */
bk_status bk_case_add_file(bk_case_doc *doc, const char *path, bk_err *err) BK_MUST_CHECK;

/** Count the change and write the file: whole or not at all. */
bk_status bk_case_save(bk_case_doc *doc, const char *path, bk_err *err) BK_MUST_CHECK;

/** The numbers of the bifurcation by the contract's precedence. */
bk_facts bk_case_facts(const bk_case_doc *doc);

#endif
