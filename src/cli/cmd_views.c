/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/views.h"
#include "cli/cli.h"

static bk_status read_reach(const char *name, const char *text, double out[2], bool *entered, bk_err *err)
{
    *entered = text != NULL;
    return text ? bk_option_numbers(name, text, 2, out, err) : BK_OK;
}

static bk_status run(int argc, char **argv, bk_err *err)
{
    const char *top = NULL, *primary = NULL, *secondary = NULL, *path;
    bk_app_views_options o = {0};
    int n;
    long number = 0;
    const bk_option options[] = {{"top", 1, &top, 0, NULL},
                                 {"primary", 1, &primary, 0, NULL},
                                 {"secondary", 1, &secondary, 0, NULL},
                                 {"svg", 1, &o.svg, 0, NULL},
                                 {0}};
    bk_status status = bk_options_read(argc, argv, options, &path, 1, &n, err);
    if (status == BK_OK && n != 1)
        status = bk_fail(err, BK_E_USAGE, "no file was found, S.json or M.json was expected");
    if (status == BK_OK && top)
        status = bk_option_integer("top", top, 1, BK_APP_VIEWS_TOP_MAX, &number, err);
    if (status == BK_OK)
        status = read_reach("primary", primary, o.primary_deg, &o.primary_entered, err);
    if (status == BK_OK)
        status = read_reach("secondary", secondary, o.secondary_deg, &o.secondary_entered, err);
    o.top = (int)number;
    bk_json *document = NULL, *answer = NULL;
    if (status == BK_OK)
        status = bk_json_read_file(path, &document, err);
    if (status == BK_OK)
        status = bk_app_views(document, &o, &answer, err);
    bk_json_free(document);
    return status == BK_OK ? bk_cli_answer(answer, err) : status;
}

const bk_command bk_cmd_views = {"views", "S.json|M.json [--top N] [--primary LO,HI] [--secondary LO,HI] [--svg OUT.svg]",
                                 "the best reachable C-arm positions for a bifurcation in space, by purpose", run};
