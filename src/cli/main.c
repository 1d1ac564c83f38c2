/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <gsl/gsl_errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/evidence_own.h"
#include "base/nearest.h"
#include "cli/cli.h"

bk_status bk_cli_answer(bk_json *answer, bk_err *err)
{
    char *text;
    size_t n;
    bk_status status = bk_json_write(answer, &text, &n, err);
    bk_json_free(answer);
    if (status != BK_OK)
        return status;
    if (fwrite(text, 1, n, stdout) != n || fflush(stdout) != 0)
        status = bk_fail(err, BK_E_IO, "the answer could not be written to standard output");
    bk_json_text_free(text);
    return status;
}

static void print_usage(FILE *to)
{
    fputs("usage: branchkeep COMMAND ...\n\n", to);
    for (unsigned i = 0; i < bk_commands_n; i++)
        fprintf(to, "  %-9s %s\n", bk_commands[i]->name, bk_commands[i]->summary);
    fputs("\nbranchkeep COMMAND --help shows what a command takes.\n"
          "branchkeep --evidence DIR COMMAND ... takes the evidence tables of a folder over those built in (or the\n"
          "environment variable " BK_EVIDENCE_FOLDER ").\n"
          "Research and education; not a medical device; verify; local protocols and the operator decide.\n",
          to);
}

static const bk_command *find_command(const char *name)
{
    for (unsigned i = 0; i < bk_commands_n; i++)
        if (strcmp(bk_commands[i]->name, name) == 0)
            return bk_commands[i];
    return NULL;
}

static bk_status unknown_command(const char *name, bk_err *err)
{
    bk_nearest best = {0};
    for (unsigned i = 0; i < bk_commands_n; i++)
        bk_nearest_offer(&best, name, bk_commands[i]->name);
    return bk_fail(err, BK_E_USAGE, "command \"%s\" is unknown, the nearest known one is \"%s\"", name, best.word);
}

/* A user's own evidence, from the option before the command or from the environment; the option goes first. */
static bk_status take_evidence(int *argc, char ***argv, bk_err *err)
{
    const char *folder = getenv(BK_EVIDENCE_FOLDER);
    if (*argc > 1 && strcmp((*argv)[1], "--evidence") == 0) {
        if (*argc < 3)
            return bk_fail(err, BK_E_USAGE, "option --evidence ends the line, a folder was expected");
        folder = (*argv)[2];
        *argc -= 2;
        *argv += 2;
    }
    return folder && folder[0] ? bk_app_evidence_own(folder, err) : BK_OK;
}

static bk_status run(int argc, char **argv, bk_err *err)
{
    if (take_evidence(&argc, &argv, err) != BK_OK)
        return err->status;
    if (argc < 2) {
        print_usage(stderr);
        return bk_fail(err, BK_E_USAGE, "no command was found, one of those above was expected");
    }
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "help") == 0) {
        print_usage(stdout);
        return BK_OK;
    }
    const bk_command *command = find_command(strcmp(argv[1], "--version") == 0 ? "version" : argv[1]);
    if (!command)
        return unknown_command(argv[1], err);
    if (argc > 2 && strcmp(argv[2], "--help") == 0) {
        printf("usage: branchkeep %s %s\n\n%s\n", command->name, command->synopsis, command->summary);
        return BK_OK;
    }
    return command->run(argc - 2, argv + 2, err);
}

int main(int argc, char **argv)
{
    bk_err err = {0};
    gsl_set_error_handler_off(); /* its default aborts; every GSL status is checked instead */
    const bk_status status = run(argc, argv, &err);
    if (status != BK_OK && err.status != BK_OK)
        fprintf(stderr, "branchkeep: %s\n", err.message);
    return bk_exit_code(status);
}
