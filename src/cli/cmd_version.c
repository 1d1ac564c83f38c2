/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <gsl/gsl_version.h>
#include <stdio.h>

#include "cli/cli.h"
#include "dicom/dicom.h"

static bk_status run(int argc, char **argv, bk_err *err)
{
    (void)argv;
    if (argc > 0)
        return bk_fail(err, BK_E_USAGE, "unexpected word \"%s\", version takes none", argv[0]);
    printf("branchkeep %s (%s, GSL %s)\n", BK_VERSION, bk_dicom_toolkit(), gsl_version);
    return BK_OK;
}

const bk_command bk_cmd_version = {"version", "", "print the version and those of the libraries in use", run};
