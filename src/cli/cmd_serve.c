/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/cli.h"
#include "server/server.h"

#define USUAL_PORT 8642

static bk_status run(int argc, char **argv, bk_err *err)
{
    const char *port = NULL, *data = NULL, *shelf = NULL;
    const bk_option table[] = {{"port", 1, &port, 0, NULL}, {"data", 1, &data, 0, NULL}, {"shelf", 1, &shelf, 0, NULL}, {0}};
    int words_n;
    long number = USUAL_PORT;
    bk_status status = bk_options_read(argc, argv, table, NULL, 0, &words_n, err);
    if (status == BK_OK && port)
        status = bk_option_integer("port", port, 0, 65535, &number, err);
    const bk_serve_options options = {(int)number, data, stdout, shelf};
    return status == BK_OK ? bk_serve(&options, err) : status;
}

const bk_command bk_cmd_serve = {"serve", "[--port N] [--data DIR] [--shelf FILE.csv]",
                                 "serve the page on this machine only, and print the address that opens it",
                                 run};
