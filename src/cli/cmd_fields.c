/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <string.h>

#include "cli/cli.h"
#include "core/case/case.h"

static bk_status run(int argc, char **argv, bk_err *err)
{
    if (argc > 1)
        return bk_fail(err, BK_E_USAGE, "%d words were found, at most one topic was expected", argc);
    bk_json *list = bk_json_array();
    bool known = argc == 0;
    for (const bk_field *row = bk_case_fields; row->name; row++) {
        if (argc == 1 && strcmp(argv[0], row->name) != 0)
            continue;
        known = true;
        if (row->rows)
            bk_fields_list(row->rows, row->name, list);
    }
    if (known)
        return bk_cli_answer(list, err);
    bk_json_free(list);
    return bk_fail(err, BK_E_USAGE, "topic \"%s\" is unknown, one of patient, anatomy, physiology, imaging, labs, decision, injury, result was expected",
                   argv[0]);
}

const bk_command bk_cmd_fields = {"fields", "[TOPIC]", "list the inputs of a case: kind, unit, range, meaning, source", run};
