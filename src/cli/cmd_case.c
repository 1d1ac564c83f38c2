/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/case.h"
#include "cli/cli.h"

#define REPEAT_MAX 64

static bk_status run(int argc, char **argv, bk_err *err)
{
    const char *is_new = NULL, *add[REPEAT_MAX], *set[REPEAT_MAX], *words[1];
    int add_n = 0, set_n = 0, n;
    const bk_option options[] = {{"new", 0, &is_new, 0, NULL},
                                 {"add", 1, add, REPEAT_MAX, &add_n},
                                 {"set", 1, set, REPEAT_MAX, &set_n},
                                 {0}};
    bk_status status = bk_options_read(argc, argv, options, words, 1, &n, err);
    if (status == BK_OK && n != 1)
        status = bk_fail(err, BK_E_USAGE, "no file was found, FILE.json was expected");
    if (status != BK_OK)
        return status;
    bk_json *doc;
    const bk_case_change change = {words[0], is_new != NULL, add, add_n, set, set_n};
    status = bk_app_case_change(&change, &doc, err);
    return status == BK_OK ? bk_cli_answer(doc, err) : status;
}

const bk_command bk_cmd_case = {"case", "FILE.json [--new] [--add M.json|S.json]... [--set PATH=VALUE]...",
                                "make, check or change a case document", run};
