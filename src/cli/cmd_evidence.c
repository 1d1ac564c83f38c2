/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/evidence.h"
#include "base/nearest.h"
#include "cli/cli.h"

static bk_json *row_json(const bk_evidence *row)
{
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "id", row->id);
    bk_json_put_text(out, "topic", row->topic);
    bk_json_put_text(out, "name", row->name);
    bk_json_put_real(out, "value", row->value);
    bk_json_put_real(out, "sd", row->sd);
    bk_json_put_real(out, "low", row->low);
    bk_json_put_real(out, "high", row->high);
    bk_json_put_text(out, "unit", row->unit);
    bk_json_put_text(out, "population", row->population);
    bk_json_put_text(out, "end_point", row->end_point);
    bk_json_put_text(out, "text", row->text);
    bk_json_put_text(out, "source", row->source);
    bk_json_put_text(out, "doi", row->doi);
    bk_json_put_text(out, "standing", bk_standing_name(row->standing));
    bk_json_put_text(out, "edition", row->edition);
    bk_json_put_text(out, "checked", row->checked);
    return out;
}

static bk_status run(int argc, char **argv, bk_err *err)
{
    const bk_evidence_set *set = bk_evidence_builtin();
    if (argc > 1)
        return bk_fail(err, BK_E_USAGE, "%d words were found, at most one id was expected", argc);
    if (argc == 1) {
        const bk_evidence *row = bk_evidence_find(set, argv[0]);
        bk_nearest best = {0};
        for (size_t i = 0; !row && i < set->n; i++)
            bk_nearest_offer(&best, argv[0], set->rows[i].id);
        return row ? bk_cli_answer(row_json(row), err)
                   : bk_fail(err, BK_E_USAGE, "evidence \"%s\" is unknown, the nearest known id is %s", argv[0], best.word);
    }
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < set->n; i++)
        bk_json_push(list, row_json(&set->rows[i]));
    return bk_cli_answer(list, err);
}

const bk_command bk_cmd_evidence = {"evidence", "[ID]", "list the published numbers in use, with source and standing", run};
