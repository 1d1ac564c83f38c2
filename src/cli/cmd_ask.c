/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/ask.h"
#include "cli/cli.h"

#define REPEAT_MAX 64
#define SAMPLES_MAX 1000000

static bk_status read_numbers(const char *samples, const char *seed, bk_ask_options *options, bk_err *err)
{
    options->samples = BK_ASK_SAMPLES;
    options->seed = 1;
    bk_status status = BK_OK;
    if (samples)
        status = bk_option_integer("samples", samples, 1, SAMPLES_MAX, &options->samples, err);
    if (status == BK_OK && seed)
        status = bk_option_integer("seed", seed, 0, 2147483647, &options->seed, err);
    return status;
}

static bk_status run(int argc, char **argv, bk_err *err)
{
    const char *words[2], *what_if[REPEAT_MAX], *samples = NULL, *seed = NULL;
    int words_n, what_if_n = 0;
    const bk_option table[] = {{"what-if", 1, what_if, REPEAT_MAX, &what_if_n},
                               {"samples", 1, &samples, 0, NULL},
                               {"seed", 1, &seed, 0, NULL},
                               {0}};
    bk_ask_options options;
    bk_status status = bk_options_read(argc, argv, table, words, 2, &words_n, err);
    if (status == BK_OK && words_n != 2)
        status = bk_fail(err, BK_E_USAGE, "%s was found, ask TOPIC CASE.json was expected",
                         words_n == 0 ? "nothing" : "one word");
    if (status == BK_OK)
        status = read_numbers(samples, seed, &options, err);
    if (status == BK_OK)
        status = bk_ask_topic(words[0], err);
    if (status != BK_OK)
        return status;
    options.what_if = what_if;
    options.what_if_n = what_if_n;
    bk_case_doc doc;
    bk_json *answer = NULL;
    status = bk_case_open(words[1], &doc, err);
    if (status == BK_OK)
        status = bk_ask(words[0], &doc, &options, &answer, err);
    bk_case_close(&doc);
    return status == BK_OK ? bk_cli_answer(answer, err) : status;
}

const bk_command bk_cmd_ask = {"ask", "TOPIC CASE.json [--what-if PATH=VALUE]... [--samples N] [--seed N]",
                               "answer one question to a case; topics: devices", run};
