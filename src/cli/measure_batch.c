/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/measure_batch.h"

#include <math.h>
#include <string.h>

#include "app/batch.h"
#include "app/workers.h"
#include "cli/cli.h"

bool bk_cli_is_batch(int argc, char **argv)
{
    for (int i = 0; i < argc; i++)
        if (strcmp(argv[i], "--batch") == 0 || strncmp(argv[i], "--batch=", 8) == 0)
            return true;
    return false;
}

static bk_status positive(const char *name, const char *text, double *out, bk_err *err)
{
    *out = NAN;
    if (!text)
        return BK_OK;
    const bk_status status = bk_option_numbers(name, text, 1, out, err);
    if (status == BK_OK && !(*out > 0))
        return bk_fail(err, BK_E_USAGE, "--%s \"%s\" was found, a number above 0 was expected", name, text);
    return status;
}

bk_status bk_cli_measure_batch(int argc, char **argv, bk_err *err)
{
    const char *jobs_text = NULL, *scale = NULL, *threshold = NULL;
    bk_batch_options options = {0};
    const bk_option known[] = {{"batch", 1, &options.list, 0, NULL}, {"jobs", 1, &jobs_text, 0, NULL},
                               {"mm-per-px", 1, &scale, 0, NULL},    {"medina-threshold", 1, &threshold, 0, NULL},
                               {0}};
    const char *words[1];
    int n;
    long jobs = bk_work_processors();
    bk_status status = bk_options_read(argc, argv, known, words, 0, &n, err);
    if (status == BK_OK && jobs_text)
        status = bk_option_integer("jobs", jobs_text, 1, BK_WORK_JOBS_MAX, &jobs, err);
    options.jobs = (int)jobs;
    if (status == BK_OK)
        status = positive("mm-per-px", scale, &options.mm_per_px, err);
    if (status == BK_OK)
        status = positive("medina-threshold", threshold, &options.medina_threshold_pct, err);
    return status == BK_OK ? bk_app_batch(&options, stdout, err) : status;
}
