/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/pick.h"
#include "cli/cli.h"

static bk_status run(int argc, char **argv, bk_err *err)
{
    static const bk_option options[] = {{0}};
    const char *path[1];
    int n;
    bk_json *answer;
    bk_status status = bk_options_read(argc, argv, options, path, 1, &n, err);
    if (status == BK_OK && n != 1)
        status = bk_fail(err, BK_E_USAGE, "no file was named, a DICOM file was expected");
    if (status == BK_OK)
        status = bk_app_pick(path[0], &answer, err);
    return status == BK_OK ? bk_cli_answer(answer, err) : status;
}

const bk_command bk_cmd_pick = {"pick", "FILE.dcm", "rank the frames of a run: vessels filled, edges sharp, heart still", run};
