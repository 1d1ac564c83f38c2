/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <string.h>

#include "app/ask.h"
#include "cli/cli.h"

#define WHAT_IF_MAX 64

static bk_status run(int argc, char **argv, bk_err *err)
{
    const char *what_if[WHAT_IF_MAX], *samples = NULL, *seed = NULL, *shelf = NULL, *svg = NULL, *words[2];
    int what_if_n = 0, n;
    long samples_n = 0, seed_n = 0;
    const bk_option options[] = {{"what-if", 1, what_if, WHAT_IF_MAX, &what_if_n},
                                 {"samples", 1, &samples, 0, NULL},
                                 {"seed", 1, &seed, 0, NULL},
                                 {"shelf", 1, &shelf, 0, NULL},
                                 {"svg", 1, &svg, 0, NULL},
                                 {0}};
    bk_status status = bk_options_read(argc, argv, options, words, 2, &n, err);
    if (status == BK_OK && n != 2)
        status = bk_fail(err, BK_E_USAGE, "%d plain words were found, TOPIC CASE.json was expected", n);
    if (status == BK_OK && samples)
        status = bk_option_integer("samples", samples, 1, 1000000, &samples_n, err);
    if (status == BK_OK && seed)
        status = bk_option_integer("seed", seed, 0, 2147483647, &seed_n, err);
    bk_json *case_doc = NULL, *answer = NULL;
    if (status == BK_OK)
        status = bk_app_ask_topic(words[0], err);
    if (status == BK_OK && svg && strcmp(words[0], "protect") != 0)
        status = bk_fail(err, BK_E_USAGE, "--svg with topic %s was found, only protect has a picture", words[0]);
    if (status == BK_OK)
        status = bk_json_read_file(words[1], &case_doc, err);
    if (status != BK_OK)
        return status;
    const bk_ask ask = {words[0], what_if, what_if_n, (int)samples_n, (uint64_t)seed_n};
    status = bk_app_ask_with(&ask, shelf, case_doc, &answer, err);
    bk_json_free(case_doc);
    if (status == BK_OK && svg)
        status = bk_app_ask_svg(answer, svg, err);
    if (status != BK_OK)
        bk_json_free(answer);
    return status == BK_OK ? bk_cli_answer(answer, err) : status;
}

const bk_command bk_cmd_ask = {"ask", "TOPIC CASE.json [--what-if PATH=VALUE]... [--samples N] [--seed N] [--shelf FILE.csv] [--svg OUT.svg]",
                               "answer a question about a case (topics: indication, flow, territory, risk, protect, strategies, devices, steps)", run};
