/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files about kept cases share. */
#ifndef BK_APP_CASES_INSIDE_H
#define BK_APP_CASES_INSIDE_H

#include "app/cases.h"
#include "store/store.h"

struct bk_cases {
    bk_store *store;
};

/* A document made ready to be kept; ends with bk__kept_clear. */
typedef struct bk_kept {
    bk_json *doc;
    char *text, *summary; /* ended with bk_json_text_free */
    const char **cines;   /* borrowed from doc */
    size_t cines_n;
} bk_kept;

/**
 * Copy a document, give it schema, case_id (a new one when it has none) and this revision, check it, and
 * derive summary and cines. Errors: BK_E_DATA what is wrong with it.
 */
bk_status bk__kept_make(const bk_json *document, int revision, bk_kept *out, bk_err *err) BK_MUST_CHECK;
void bk__kept_clear(bk_kept *kept);
const char *bk__kept_id(const bk_kept *kept);

/** Check the copy of a cine: a DICOM file whose first frame can be decoded; *summary for the list. */
bk_status bk__look_at_cine(const char *path, char **summary, bk_err *err) BK_MUST_CHECK;
/** BK_E_USAGE when there is something at path. */
bk_status bk__must_be_new(const char *path, bk_err *err) BK_MUST_CHECK;
/** bk_store_each that gives the document as JSON to a bk_json ** context. */
bk_status bk__take_document(void *context, const bk_store_row *row, bk_err *err);

#endif
