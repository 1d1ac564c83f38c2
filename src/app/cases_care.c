/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/app.h"
#include "app/cases_inside.h"

bk_status bk_cases_remove(bk_cases *cases, const char *case_id, bk_removal how, bk_json **out, bk_err *err)
{
    static const char *const words[] = {"off the list", "on the list", "destroyed"};
    char now[32];
    int cines = 0;
    *out = NULL;
    bk_app_now(now);
    const bk_status status = how == BK_REMOVE_FOR_GOOD
                                 ? bk_store_destroy(cases->store, case_id, &cines, err)
                                 : bk_store_remove(cases->store, case_id, how == BK_REMOVE ? now : NULL, err);
    if (status != BK_OK)
        return status;
    *out = bk_json_object();
    bk_json_put_text(*out, "case_id", case_id);
    bk_json_put_text(*out, "case", words[how]);
    if (how == BK_REMOVE_FOR_GOOD)
        bk_json_put_integer(*out, "cines_destroyed", cines);
    return BK_OK;
}

static void add_problem(void *context, const char *text)
{
    bk_json_push(context, bk_json_new_text(text));
}

bk_status bk_cases_verify(bk_cases *cases, bool *sound, bk_json **out, bk_err *err)
{
    bk_json *problems = bk_json_array();
    bk_store_check check = {.problem = add_problem, .context = problems};
    *out = NULL;
    *sound = false;
    const bk_status status = bk_store_verify(cases->store, &check, err);
    if (status != BK_OK) {
        bk_json_free(problems);
        return status;
    }
    *sound = bk_json_count(problems) == 0;
    *out = bk_json_object();
    bk_json_put_text(*out, "schema", "branchkeep.cases_check/1");
    bk_json_put_bool(*out, "sound", *sound);
    bk_json_put(*out, "problems", problems);
    bk_json_put_integer(*out, "cases", check.cases);
    bk_json_put_integer(*out, "revisions", check.revisions);
    bk_json_put_integer(*out, "cines", check.cines);
    bk_json_put_integer(*out, "unlisted_files", check.unlisted_files);
    bk_json_put_integer(*out, "copies_swept", check.copies_swept);
    return BK_OK;
}
