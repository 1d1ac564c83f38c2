/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/listings.h"

#include <string.h>

#include "app/answer.h"
#include "app/app.h"
#include "base/nearest.h"
#include "core/plan/events.h"

static bk_json *start(const char *schema)
{
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "schema", schema);
    bk_json_put_text(out, "engine", bk_engine);
    return out;
}

bk_status bk_list_fields(const char *topic, bk_json **out, bk_err *err)
{
    bk_json *fields = bk_json_array();
    bk_nearest best = {0};
    for (const bk_field *row = bk_case_fields; row->kind != BK_FIELD_END; row++) {
        if (topic)
            bk_nearest_offer(&best, topic, row->name);
        if (!topic || strcmp(topic, row->name) == 0)
            bk_fields_list_row(row, fields);
    }
    if (topic && strcmp(topic, "log") == 0)
        bk_events_list(fields);
    *out = NULL;
    if (bk_json_count(fields) == 0) {
        bk_json_free(fields);
        return bk_fail(err, BK_E_USAGE, "topic \"%s\" is unknown, the nearest known one is \"%s\"", topic,
                       best.word);
    }
    *out = start("branchkeep.fields/1");
    bk_json_put(*out, "fields", fields);
    return BK_OK;
}

static bool is_of_topic(const char *topic, const char *word)
{
    const size_t n = strlen(word);
    return strncmp(topic, word, n) == 0 && (topic[n] == '\0' || topic[n] == '_');
}

bk_status bk_list_evidence(const char *word, bk_json **out, bk_err *err)
{
    const bk_evidence_set *set = bk_evidence_builtin();
    const bk_evidence *one = word ? bk_evidence_find(set, word) : NULL;
    bk_json *rows = bk_json_array();
    bk_nearest best = {0};
    for (size_t i = 0; i < set->n; i++) {
        if (word) {
            bk_nearest_offer(&best, word, set->rows[i].id);
            bk_nearest_offer(&best, word, set->rows[i].topic);
        }
        if (!word || one == &set->rows[i] || (!one && is_of_topic(set->rows[i].topic, word)))
            bk_json_push(rows, bk_evidence_json(&set->rows[i]));
    }
    *out = NULL;
    if (bk_json_count(rows) == 0) {
        bk_json_free(rows);
        return bk_fail(err, BK_E_USAGE, "evidence \"%s\" is unknown, the nearest known one is \"%s\"", word,
                       best.word);
    }
    *out = start("branchkeep.evidence/1");
    bk_json_put(*out, "rows", rows);
    return BK_OK;
}
