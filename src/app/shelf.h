/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Use case: stock lists, built in or a file of the lab's own. */
#ifndef BK_APP_SHELF_H
#define BK_APP_SHELF_H

#include "base/json.h"
#include "core/plan/shelf.h"

/**
 * Read a stock list: the file when one is given, else the built-in list of this name ("": default).
 * *found is false, and out empty, when there is no built-in list of that name.
 * Errors: BK_E_IO, BK_E_LIMIT the file; BK_E_DATA a faulty row, "FILE: line N: ...".
 */
bk_status bk_app_shelf_read(const char *file, const char *name, bk_arena *arena, bk_stock *out, bool *found,
                            bk_err *err) BK_MUST_CHECK;

/**
 * A list as branchkeep.shelf/1 {schema, name, n, items[...], cautions[]}, after its checks. what: a built-in
 * name, or a file ("... .csv"). Errors: as above; BK_E_USAGE neither a file nor a known name.
 */
bk_status bk_app_shelf_list(const char *what, bk_json **out, bk_err *err) BK_MUST_CHECK;

#endif
