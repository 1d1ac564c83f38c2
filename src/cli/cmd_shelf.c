/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/shelf.h"
#include "cli/cli.h"

static bk_status run(int argc, char **argv, bk_err *err)
{
    const char *words[1] = {NULL};
    int words_n;
    const bk_option table[] = {{0}};
    bk_json *list;
    bk_status status = bk_options_read(argc, argv, table, words, 1, &words_n, err);
    if (status == BK_OK)
        status = bk_app_shelf_list(words_n > 0 ? words[0] : "default", &list, err);
    return status == BK_OK ? bk_cli_answer(list, err) : status;
}

const bk_command bk_cmd_shelf = {"shelf", "[default|demo|FILE.csv]",
                                 "check a stock list and print it (columns: shelf/README.md)", run};
