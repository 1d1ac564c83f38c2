/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Import of a backup into an empty store. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/cases_import.h"

static bk_status list_restored(void *context, const bk_store_row *row, bk_err *err)
{
    (void)err;
    bk__tell_import(context, row->case_id, row->revision, "new");
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
static bk_status check_database(bk_import *m, const char *folder, int64_t *cines, bk_err *err)
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
    if (status == BK_E_INTERNAL)
        return bk_fail(err, status, "%s", found.message);
    if (status != BK_OK || problem.status != BK_OK)
        return bk_fail(err, BK_E_DATA, "a database that cannot be used was found in the backup: %.150s",
                       status != BK_OK ? without_folder(found.message) : problem.message);
    return BK_OK;
}

bk_status bk__import_backup(bk_import *m, const char *folder, bk_err *err)
{
    int64_t cines = 0;
    if (m->members.n == 0 || strcmp(m->members.items[0].name, bk_store_database) != 0)
        return bk__refuse_archive(err, "a backup without its database", bk_store_database);
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
        status = bk__import_cines(m, err);
    if (status == BK_OK && (m->used != m->members.n || m->cines_new + m->cines_known != cines))
        status = bk__refuse_archive(err, "a backup with other cines than its database lists", "a whole one");
    return status == BK_OK ? bk_store_take_over(m->cases->store, folder, err) : status;
}
