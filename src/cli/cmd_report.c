/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdio.h>

#include "app/report.h"
#include "cli/cli.h"

static bk_status run(int argc, char **argv, bk_err *err)
{
    const char *cines[BK_REPORT_CINES_MAX], *words[1];
    bk_report_job job = {.cines = cines};
    int n;
    const bk_option options[] = {{"cine", 1, cines, BK_REPORT_CINES_MAX, &job.cines_n},
                                 {"html", 1, &job.html, 0, NULL},
                                 {"pdf", 1, &job.pdf, 0, NULL},
                                 {"shelf", 1, &job.shelf, 0, NULL},
                                 {0}};
    bk_status status = bk_options_read(argc, argv, options, words, 1, &n, err);
    if (status == BK_OK && n != 1)
        status = bk_fail(err, BK_E_USAGE, "no file was found, CASE.json was expected");
    if (status == BK_OK && !job.html && !job.pdf)
        status = bk_fail(err, BK_E_USAGE, "neither --html F nor --pdf F was found, one was expected");
    if (status != BK_OK)
        return status;
    job.case_path = words[0];
    status = bk_app_report(&job, err);
    if (status == BK_OK && job.cines_n == 0)
        fputs("branchkeep: no --cine was given: the report says that pixels were not given\n", stderr);
    return status;
}

const bk_command bk_cmd_report = {"report", "CASE.json [--cine FILE]... [--html F] [--pdf F] [--shelf FILE.csv]",
                                  "write the report of a case as a page or on paper", run};
