/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/listings.h"
#include "cli/cli.h"

static bk_status run(int argc, char **argv, bk_err *err)
{
    const char *words[1] = {NULL};
    int words_n;
    const bk_option table[] = {{0}};
    bk_json *list;
    bk_status status = bk_options_read(argc, argv, table, words, 1, &words_n, err);
    if (status == BK_OK)
        status = bk_list_evidence(words_n > 0 ? words[0] : NULL, &list, err);
    return status == BK_OK ? bk_cli_answer(list, err) : status;
}

const bk_command bk_cmd_evidence = {"evidence", "[ID|TOPIC]",
                                    "list the published numbers in use, with source and standing", run};
