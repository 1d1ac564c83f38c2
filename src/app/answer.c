/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/answer.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

#include "app/app.h"
#include "base/format.h"

bk_answer bk_answer_start(const char *topic)
{
    bk_answer out = {.json = bk_json_object(),
                     .inputs = bk_json_array(),
                     .missing = bk_json_array(),
                     .sources = bk_json_array(),
                     .cautions = bk_json_array()};
    bk_json_put_text(out.json, "schema", "branchkeep.answer/1");
    bk_json_put_text(out.json, "topic", topic);
    bk_json_put_text(out.json, "engine", bk_engine);
    bk_json_put(out.json, "inputs", out.inputs);
    bk_json_put(out.json, "missing", out.missing);
    bk_json_push(out.cautions,
                 bk_json_new_text(bk_caution)); /* the one that every output carries comes first */
    return out;
}

bk_json *bk_answer_finish(bk_answer *answer)
{
    bk_json *json = answer->json;
    bk_json_put(json, "sources", answer->sources);
    bk_json_put(json, "cautions", answer->cautions);
    *answer = (bk_answer){0};
    return json;
}

/* Is there an item whose key (or, without a key, whose text) is this word? */
static bool holds(const bk_json *array, const char *key, const char *word)
{
    for (size_t i = 0; i < bk_json_count(array); i++) {
        const bk_json *item = bk_json_at(array, i);
        if (strcmp(bk_json_text(key ? bk_json_get(item, key) : item), word) == 0)
            return true;
    }
    return false;
}

static void put_from(bk_json *input, bk_from from, ptrdiff_t measurement)
{
    static const char *const names[] = {"", "anatomy", "solid", "measurements", "other inputs"};
    char text[40];
    if (from == BK_FROM_NOWHERE) // not a number of the bifurcation: its name says where it stands
        return;
    bk_format(text, sizeof text, "measurements.%td", measurement);
    bk_json_put_text(input, "from", from == BK_FROM_MEASUREMENT ? text : names[from]);
}

void bk_answer_input(bk_answer *answer, const char *name, const bk_fact *fact, const char *unit,
                     ptrdiff_t measurement)
{
    if (!bk_has(fact->q) || holds(answer->inputs, "name", name))
        return;
    bk_json *input = bk_json_object();
    bk_json_put_text(input, "name", name);
    bk_json_put_fixed(input, "value", fact->q.value, 4);
    bk_json_put_fixed(input, "sd", fact->q.sd, 4);
    bk_json_put_text(input, "unit", unit);
    bk_json_put_text(input, "origin", bk_origin_name(fact->q.origin));
    put_from(input, fact->from, measurement);
    bk_json_push(answer->inputs, input);
}

void bk_answer_input_text(bk_answer *answer, const char *name, const char *value, const char *origin)
{
    bk_json *input = bk_json_object();
    bk_json_put_text(input, "name", name);
    bk_json_put_text(input, "value", value);
    bk_json_put_text(input, "unit", NULL);
    bk_json_put_text(input, "origin", origin);
    bk_json_push(answer->inputs, input);
}

void bk_answer_missing(bk_answer *answer, const char *name, const char *why)
{
    if (holds(answer->missing, "name", name))
        return;
    bk_json *entry = bk_json_object();
    bk_json_put_text(entry, "name", name);
    bk_json_put_text(entry, "why", why);
    bk_json_push(answer->missing, entry);
}

void bk_answer_source(bk_answer *answer, const char *id)
{
    const bk_evidence *row = bk_evidence_find(bk_evidence_builtin(), id);
    if (!row || holds(answer->sources, "id", id))
        return;
    bk_json *source = bk_json_object();
    bk_json_put_text(source, "id", row->id);
    bk_json_put_text(source, "text", row->text);
    bk_json_put_text(source, "source", row->source);
    bk_json_put_text(source, "doi", row->doi[0] ? row->doi : NULL);
    bk_json_put_text(source, "standing", bk_standing_name(row->standing));
    bk_json_put_text(source, "edition", row->edition[0] ? row->edition : NULL);
    bk_json_put_text(source, "checked", row->checked[0] ? row->checked : NULL);
    if (row->own)
        bk_json_put_bool(source, "own", true);
    bk_json_put_text(source, "end_point", row->end_point[0] ? row->end_point : NULL);
    bk_json_put_text(source, "population", row->population[0] ? row->population : NULL);
    bk_json_push(answer->sources, source);
}

void bk_answer_caution(bk_answer *answer, const char *format, ...)
{
    char text[400];
    va_list args;
    va_start(args, format);
    bk_format_list(text, sizeof text, format, args);
    va_end(args);
    if (!holds(answer->cautions, NULL, text))
        bk_json_push(answer->cautions, bk_json_new_text(text));
}

bk_json *bk_evidence_json(const bk_evidence *row)
{
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "id", row->id);
    bk_json_put_text(out, "topic", row->topic);
    bk_json_put_text(out, "name", row->name);
    bk_json_put_real(out, "value", row->value);
    bk_json_put_real(out, "sd", row->sd);
    bk_json_put_real(out, "low", row->low);
    bk_json_put_real(out, "high", row->high);
    const struct {
        const char *key, *text;
    } rest[] = {{"interval", row->interval},
                {"unit", row->unit},
                {"population", row->population},
                {"end_point", row->end_point},
                {"text", row->text},
                {"source", row->source},
                {"doi", row->doi},
                {"standing", bk_standing_name(row->standing)},
                {"edition", row->edition},
                {"checked", row->checked}};
    for (size_t i = 0; i < sizeof rest / sizeof rest[0]; i++)
        bk_json_put_text(out, rest[i].key, rest[i].text[0] ? rest[i].text : NULL);
    if (row->own)
        bk_json_put_bool(out, "own", true);
    return out;
}
