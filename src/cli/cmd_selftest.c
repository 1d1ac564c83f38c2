/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdio.h>

#include "app/demo.h"
#include "cli/cli.h"

static bk_status run(int argc, char **argv, bk_err *err)
{
    if (argc > 0)
        return bk_fail(err, BK_E_USAGE, "unexpected word \"%s\", selftest takes none", argv[0]);
    return bk_app_selftest(stdout, err);
}

const bk_command bk_cmd_selftest = {"selftest", "", "measure the bundled case and hold it against its truth", run};
