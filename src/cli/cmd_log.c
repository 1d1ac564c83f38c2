/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/log.h"

#include <string.h>

#include "cli/cli.h"

#define WORDS_MAX 24
#define USAGE "CASE.json add EVENT [KEY=VALUE]... | next EVENT [KEY=VALUE]... | undo N | show"

static bk_status entry_of(const char *action, const char *const *words, int n, bk_json **out, bk_err *err)
{
    *out = NULL;
    if (strcmp(action, "show") == 0)
        return n == 0 ? BK_OK : bk_fail(err, BK_E_USAGE, "\"%.40s\" was found behind show, nothing was expected", words[0]);
    if (n < 1)
        return bk_fail(err, BK_E_USAGE, "nothing was found behind %s, %s was expected", action, strcmp(action, "undo") == 0 ? "an entry's number" : "an event (fields log lists them)");
    if (strcmp(action, "undo") != 0)
        return bk_app_log_words(words[0], words + 1, n - 1, out, err);
    char number[32] = "n=";
    if (n > 1 || strlen(words[0]) > 20)
        return bk_fail(err, BK_E_USAGE, "undo takes the number of one entry");
    strcat(number, words[0]); /* NOLINT: measured above */
    const char *const key[] = {number};
    return bk_app_log_words("undo", key, 1, out, err);
}

static bk_status run(int argc, char **argv, bk_err *err)
{
    const char *words[WORDS_MAX];
    const bk_option options[] = {{0}};
    int n;
    bk_json *entry, *view = NULL;
    bk_status status = bk_options_read(argc, argv, options, words, WORDS_MAX, &n, err);
    if (status == BK_OK && n < 2)
        status = bk_fail(err, BK_E_USAGE, "%d plain words were found, " USAGE " was expected", n);
    if (status != BK_OK)
        return status;
    const char *action = words[1];
    if (strcmp(action, "add") != 0 && strcmp(action, "next") != 0 && strcmp(action, "undo") != 0 && strcmp(action, "show") != 0)
        return bk_fail(err, BK_E_USAGE, "\"%.40s\" was found, add, next, undo or show was expected", action);
    status = entry_of(action, words + 2, n - 2, &entry, err);
    if (status == BK_OK)
        status = bk_app_log_file(words[0], strcmp(action, "show") == 0 ? BK_LOG_SHOW : strcmp(action, "next") == 0 ? BK_LOG_NEXT : BK_LOG_ADD,
                                 entry, &view, err);
    bk_json_free(entry);
    return status == BK_OK ? bk_cli_answer(view, err) : status;
}

const bk_command bk_cmd_log = {"log", USAGE, "write down what happens, see where the procedure stands, ask what the next step would bring", run};
