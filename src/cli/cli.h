/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The command table. One file per sub-command: cmd_<name>.c defines `const bk_command bk_cmd_<name>`. */
#ifndef BK_CLI_CLI_H
#define BK_CLI_CLI_H

#include "base/json.h"
#include "base/status.h"

typedef struct bk_command {
    const char *name;
    const char *synopsis; /* what follows the name: "FILE.dcm --frame K --png OUT.png [--window C,W]" */
    const char *summary;  /* one line */
    /* argv[0] is the first word after the sub-command's name. Answers go to stdout; the returned status
       becomes the exit code; the message in err is printed by main as "branchkeep: ...". */
    bk_status (*run)(int argc, char **argv, bk_err *err);
} bk_command;

extern const bk_command *const bk_commands[];
extern const unsigned bk_commands_n;

/* ---- reading options: `--name value`, `--name=value`, in any order among the plain words ---- */

typedef struct bk_option {
    const char *name;   /* "frame" for --frame; NULL ends the table */
    int takes_value;    /* 0: a switch */
    const char **value; /* set to the value, or to "" for a switch; NULL stays when absent. For a repeatable
                           option, room for repeat_max values */
    int repeat_max;     /* 0: at most once */
    int *repeat_n;      /* how often it was given, when repeat_max > 0 */
} bk_option;

/**
 * Sort argv into options and plain words. words has room for words_max; *words_n is how many there were.
 * Errors: BK_E_USAGE unknown option (names the nearest known one), missing value, twice given, too many words.
 */
bk_status bk_options_read(int argc, char **argv, const bk_option *options, const char **words, int words_max,
                          int *words_n, bk_err *err) BK_MUST_CHECK;

/** Numbers of an option: "X,Y" with n entries. Errors: BK_E_USAGE naming the option and what was found. */
bk_status bk_option_numbers(const char *name, const char *text, int n, double *out, bk_err *err) BK_MUST_CHECK;
bk_status bk_option_integer(const char *name, const char *text, long low, long high, long *out,
                            bk_err *err) BK_MUST_CHECK;

/** Print a JSON answer to stdout and free it. Errors: BK_E_IO when stdout cannot be written. */
bk_status bk_cli_answer(bk_json *answer, bk_err *err) BK_MUST_CHECK;

#endif
