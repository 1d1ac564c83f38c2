/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdio.h>

#include "app/case_doc.h"
#include "cli/cli.h"

#define REPEAT_MAX 64

typedef struct case_options {
    const char *start; /* --new */
    const char *add[REPEAT_MAX], *set[REPEAT_MAX];
    int add_n, set_n;
} case_options;

static bk_status begin(const char *path, const case_options *options, bk_case_doc *doc, bk_err *err)
{
    if (!options->start)
        return bk_case_open(path, doc, err);
    FILE *there = fopen(path, "rb");
    if (there) {
        fclose(there);
        return bk_fail(err, BK_E_USAGE, "%s exists, the name of a new file was expected after case --new",
                       path);
    }
    return bk_case_start(doc, err);
}

static bk_status change(const case_options *options, bk_case_doc *doc, bk_err *err)
{
    for (int i = 0; i < options->add_n; i++) {
        const bk_status status = bk_case_add_file(doc, options->add[i], err);
        if (status != BK_OK)
            return status;
    }
    return options->set_n > 0 ? bk_case_set(doc, options->set, options->set_n, err) : BK_OK;
}

static bk_status run(int argc, char **argv, bk_err *err)
{
    case_options options = {0};
    const char *words[1];
    int words_n;
    const bk_option table[] = {{"new", 0, &options.start, 0, NULL},
                               {"add", 1, options.add, REPEAT_MAX, &options.add_n},
                               {"set", 1, options.set, REPEAT_MAX, &options.set_n},
                               {0}};
    bk_status status = bk_options_read(argc, argv, table, words, 1, &words_n, err);
    if (status != BK_OK)
        return status;
    if (words_n != 1)
        return bk_fail(err, BK_E_USAGE, "no file was found, case FILE.json was expected");
    bk_case_doc doc = {0};
    status = begin(words[0], &options, &doc, err);
    if (status == BK_OK)
        status = change(&options, &doc, err);
    if (status == BK_OK && (options.start || options.add_n > 0 || options.set_n > 0))
        status = bk_case_save(&doc, words[0], err);
    if (status == BK_OK)
        status = bk_cli_answer(bk_json_copy(doc.json), err);
    bk_case_close(&doc);
    return status;
}

const bk_command bk_cmd_case = {"case", "FILE.json [--new] [--add M.json|S.json]... [--set PATH=VALUE]...",
                                "check, make or change a case document, and print it", run};
