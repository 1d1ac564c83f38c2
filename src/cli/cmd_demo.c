/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdio.h>

#include "app/demo.h"
#include "cli/cli.h"

static bk_status run(int argc, char **argv, bk_err *err)
{
    if (argc > 1)
        return bk_fail(err, BK_E_USAGE, "%d words were found, at most one folder was expected", argc);
    return bk_app_demo(argc == 1 ? argv[0] : "branchkeep-demo", stdout, err);
}

const bk_command bk_cmd_demo = {"demo", "[DIR]", "the bundled invented case through the whole job, into a folder", run};
