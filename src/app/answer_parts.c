/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <string.h>

#include "app/answers.h"

void bk_answer_input(bk_json *inputs, const char *name, bk_qty q, const char *unit)
{
    bk_json *entry = bk_json_object();
    bk_json_put_text(entry, "name", name);
    bk_json_put_fixed(entry, "value", q.value, 4);
    bk_json_put_fixed(entry, "sd", q.sd, 4);
    bk_json_put_text(entry, "unit", unit);
    bk_json_put_text(entry, "origin", bk_origin_name(q.origin));
    bk_json_push(inputs, entry);
}

void bk_answer_missing(bk_json *missing, const char *name, const char *why)
{
    bk_json *entry = bk_json_object();
    bk_json_put_text(entry, "name", name);
    bk_json_put_text(entry, "why", why);
    bk_json_push(missing, entry);
}

static const char *text_or_null(const char *text)
{
    return text && text[0] ? text : NULL;
}

void bk_answer_source(bk_json *sources, const char *evidence_id)
{
    const bk_evidence *row = bk_evidence_find(bk_evidence_builtin(), evidence_id);
    for (size_t i = 0; i < bk_json_count(sources); i++)
        if (strcmp(bk_json_text(bk_json_get(bk_json_at(sources, i), "id")), evidence_id) == 0)
            return;
    if (!row)
        return;
    bk_json *entry = bk_json_object();
    bk_json_put_text(entry, "id", row->id);
    bk_json_put_text(entry, "text", text_or_null(row->text) ? row->text : row->name);
    bk_json_put_text(entry, "source", text_or_null(row->source));
    bk_json_put_text(entry, "doi", text_or_null(row->doi));
    bk_json_put_text(entry, "standing", bk_standing_name(row->standing));
    bk_json_put_text(entry, "edition", text_or_null(row->edition));
    bk_json_push(sources, entry);
}
