/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/count.h"
#include "cli/cli.h"

static bk_status run(int argc, char **argv, bk_err *err)
{
    const char *first = NULL, *last = NULL, *vessel = NULL, *path[1];
    const bk_option options[] = {
        {"first", 1, &first, 0, NULL}, {"last", 1, &last, 0, NULL}, {"vessel", 1, &vessel, 0, NULL}, {0}};
    long from = 0, to = 0;
    int n;
    bk_json *answer = NULL;
    bk_status status = bk_options_read(argc, argv, options, path, 1, &n, err);
    if (status == BK_OK && n != 1)
        status = bk_fail(err, BK_E_USAGE, "no file was named, a DICOM file was expected");
    if (status == BK_OK && (!first || !last || !vessel))
        status = bk_fail(err, BK_E_USAGE, "not all of --first, --last, --vessel were found, all three were expected");
    if (status == BK_OK)
        status = bk_option_integer("first", first, 1, 1000000, &from, err);
    if (status == BK_OK)
        status = bk_option_integer("last", last, 1, 1000000, &to, err);
    if (status == BK_OK)
        status = bk_app_count(path[0], from, to, vessel, &answer, err);
    return status == BK_OK ? bk_cli_answer(answer, err) : status;
}

const bk_command bk_cmd_count = {"count", "FILE.dcm --first K --last K --vessel lad|lcx|rca",
                                 "corrected frame count and velocity of the contrast front", run};
