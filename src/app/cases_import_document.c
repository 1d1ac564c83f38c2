/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Import of a case document. */
#include <stdlib.h>
#include <string.h>

#include "app/app.h"
#include "app/cases_import.h"
#include "base/file.h"

/* The kept revision that a document equals, its own revision number aside; 0: none. */
static bk_status find_equal(const bk_json *doc, const bk_kept_hashes *kept, int *found, bk_err *err)
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

static bk_status save_document(bk_import *m, const bk_json *doc, int based_on, size_t kept_n, bk_err *err)
{
    bk_kept made;
    char now[32];
    bk_app_now(now);
    bk_status status = bk__kept_make(doc, based_on + 1, &made, err);
    if (status != BK_OK)
        return status;
    status = bk__put_on_list(m->cases->store, bk__kept_id(&made), kept_n, err);
    if (status == BK_OK)
        status = bk__save_import(m, &made, made.text, now, based_on, &m->conflict, err);
    if (status == BK_OK)
        bk__tell_import(m, bk__kept_id(&made), m->conflict ? (int)kept_n : based_on + 1,
                        m->conflict ? "conflict"
                        : kept_n    ? "added"
                                    : "new");
    bk__kept_clear(&made);
    return status;
}

bk_status bk__import_document(bk_import *m, const bk_json *doc, int based_on, bk_err *err)
{
    bk_kept made;
    bk_kept_hashes kept = {0};
    int equal = 0;
    bk_status status = bk__kept_make(doc, 1, &made, err); /* with its id, if it had none */
    if (status != BK_OK)
        return status;
    const char *case_id = bk__kept_id(&made);
    status = bk__read_hashes(m->cases->store, case_id, &kept, err);
    if (status == BK_OK)
        status = find_equal(made.doc, &kept, &equal, err);
    if (status == BK_OK && equal > 0) {
        status = bk__put_on_list(m->cases->store, case_id, kept.n, err);
        bk__tell_import(m, case_id, equal, "known");
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
