/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <string.h>

#include "app/cases.h"
#include "base/nearest.h"
#include "cli/cli.h"

/* One table of options serves all actions; each says which of them it takes. */
typedef struct request {
    const char *data, *revision, *based_on; /* NULL: not given */
    const char *all, *history, *undo, *for_good;
    const char *words[3]; /* the action, then what it works on */
    int words_n;
    bk_cases *cases;
} request;

static bk_status whole_number(const char *name, const char *text, long low, int *out, bk_err *err)
{
    long value = 0;
    const bk_status status = text ? bk_option_integer(name, text, low, 999999999, &value, err) : BK_OK;
    *out = (int)value;
    return status;
}

/* *out, not out: it has its value only after the call that stands before it has run. */
static bk_status answer(bk_status status, bk_json *const *out, bk_err *err)
{
    return status == BK_OK ? bk_cli_answer(*out, err) : status;
}

static bk_status list(const request *r, bk_err *err)
{
    bk_json *out;
    return answer(bk_cases_list_all(r->cases, r->all != NULL, &out, err), &out, err);
}

static bk_status show(const request *r, bk_err *err)
{
    bk_json *out;
    int revision;
    if (r->history && r->revision)
        return bk_fail(err, BK_E_USAGE, "both --history and --revision were found, one of them was expected");
    bk_status status = whole_number("revision", r->revision, 1, &revision, err);
    if (status != BK_OK)
        return status;
    status = r->history ? bk_cases_history(r->cases, r->words[1], &out, err)
                        : bk_cases_load(r->cases, r->words[1], revision, &out, err);
    return answer(status, &out, err);
}

static bk_status import(const request *r, bk_err *err)
{
    bk_json *out;
    int based_on;
    bool conflict;
    bk_status status = whole_number("based-on", r->based_on, 1, &based_on, err);
    if (status == BK_OK)
        status = answer(bk_cases_import(r->cases, r->words[1], based_on, &conflict, &out, err), &out, err);
    if (status == BK_OK && conflict)
        return bk_fail(err, BK_E_NOTHING,
                       "other content was found under the same case id, nothing was imported; "
                       "--based-on REVISION says what a document was made from");
    return status;
}

static bk_status export(const request *r, bk_err *err)
{
    bk_json *out;
    return answer(bk_cases_export(r->cases, r->words[1], r->words[2], &out, err), &out, err);
}

static bk_status backup(const request *r, bk_err *err)
{
    bk_json *out;
    return answer(bk_cases_backup(r->cases, r->words[1], &out, err), &out, err);
}

static bk_status remove_case(const request *r, bk_err *err)
{
    bk_json *out;
    if (r->undo && r->for_good)
        return bk_fail(err, BK_E_USAGE, "both --undo and --for-good were found, one of them was expected");
    const bk_removal how = r->undo ? BK_REMOVE_UNDO : r->for_good ? BK_REMOVE_FOR_GOOD : BK_REMOVE;
    return answer(bk_cases_remove(r->cases, r->words[1], how, &out, err), &out, err);
}

static bk_status verify(const request *r, bk_err *err)
{
    bk_json *out;
    bool sound;
    const bk_status status = answer(bk_cases_verify(r->cases, &sound, &out, err), &out, err);
    if (status == BK_OK && !sound)
        return bk_fail(err, BK_E_NOTHING, "damage was found in the kept cases, the answer lists it");
    return status;
}

typedef struct action {
    const char *name;
    int words; /* with the name */
    const char *takes, *synopsis;
    bk_status (*run)(const request *r, bk_err *err);
} action;

static const action actions[] = {
    {"list", 1, "data all", "list [--all]", list},
    {"show", 2, "data revision history", "show ID [--revision N | --history]", show},
    {"import", 2, "data based-on", "import FILE [--based-on N]", import},
    {"export", 3, "data", "export ID FILE", export},
    {"remove", 2, "data undo for-good", "remove ID [--undo | --for-good]", remove_case},
    {"verify", 1, "data", "verify", verify},
    {"backup", 2, "data", "backup FILE", backup},
};
#define ACTIONS (sizeof actions / sizeof actions[0])

static const action *find_action(const char *name, bk_err *err)
{
    bk_nearest best = {0};
    for (size_t i = 0; i < ACTIONS; i++) {
        if (strcmp(actions[i].name, name) == 0)
            return &actions[i];
        bk_nearest_offer(&best, name, actions[i].name);
    }
    bk_fail(err, BK_E_USAGE, "cases \"%.40s\" is unknown, the nearest known one is \"%s\"", name, best.word);
    return NULL;
}

static bool takes(const action *what, const char *option)
{
    const size_t n = strlen(option);
    for (const char *at = what->takes; (at = strstr(at, option)); at += n)
        if ((at == what->takes || at[-1] == ' ') && (at[n] == ' ' || at[n] == '\0'))
            return true;
    return false;
}

static bk_status read_request(int argc, char **argv, request *r, const action **what, bk_err *err)
{
    const bk_option options[] = {
        {"data", 1, &r->data, 0, NULL},         {"revision", 1, &r->revision, 0, NULL},
        {"based-on", 1, &r->based_on, 0, NULL}, {"all", 0, &r->all, 0, NULL},
        {"history", 0, &r->history, 0, NULL},   {"undo", 0, &r->undo, 0, NULL},
        {"for-good", 0, &r->for_good, 0, NULL}, {0}};
    bk_status status = bk_options_read(argc, argv, options, r->words, 3, &r->words_n, err);
    if (status == BK_OK && r->words_n == 0)
        status =
            bk_fail(err, BK_E_USAGE,
                    "no action was found, list, show, import, export, remove, verify or backup was expected");
    if (status != BK_OK)
        return status;
    *what = find_action(r->words[0], err);
    if (!*what)
        return BK_E_USAGE;
    for (const bk_option *o = options; o->name; o++)
        if (*o->value && !takes(*what, o->name))
            return bk_fail(err, BK_E_USAGE, "option --%s was found, cases %s was expected", o->name,
                           (*what)->synopsis);
    if (r->words_n != (*what)->words)
        return bk_fail(err, BK_E_USAGE, "%d words were found, cases %s was expected", r->words_n,
                       (*what)->synopsis);
    return BK_OK;
}

static bk_status run(int argc, char **argv, bk_err *err)
{
    request r = {0};
    const action *what;
    bk_status status = read_request(argc, argv, &r, &what, err);
    if (status == BK_OK)
        status = bk_cases_open(r.data, &r.cases, err);
    if (status != BK_OK)
        return status;
    status = what->run(&r, err);
    bk_cases_close(r.cases);
    return status;
}

const bk_command bk_cmd_cases = {
    "cases",
    "ACTION [--data DIR]\n"
    "  list [--all]                          the kept cases; --all: also the removed ones\n"
    "  show ID [--revision N | --history]    the case document, or the list of its revisions\n"
    "  import FILE [--based-on N]            a case document, an exported case, a backup, or a cine\n"
    "  export ID FILE                        a case with all revisions and its cines, as one archive\n"
    "  remove ID [--undo | --for-good]       off the list; back on it; destroyed\n"
    "  verify                                check every hash and the database\n"
    "  backup FILE                           everything, as one archive",
    "keep cases and cines in one place", run};
