/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/emergencies.h"

#include <stdlib.h>
#include <string.h>

#include "base/evidence.h"

#define PREFIX "emergency_"
#define LINES_MAX 40

static bool is_card(const bk_evidence *row)
{
    return strncmp(row->topic, PREFIX, sizeof PREFIX - 1) == 0;
}

static bool is_first(const bk_evidence_set *set, size_t i)
{
    for (size_t k = 0; k < i; k++)
        if (strcmp(set->rows[k].topic, set->rows[i].topic) == 0)
            return false;
    return true;
}

static int by_value(const void *a, const void *b)
{
    const bk_evidence *left = *(const bk_evidence *const *)a, *right = *(const bk_evidence *const *)b;
    return left->value < right->value ? -1 : left->value > right->value;
}

static bk_json *lines(const bk_evidence_set *set, const char *topic)
{
    const bk_evidence *rows[LINES_MAX];
    size_t n = 0;
    for (size_t i = 0; i < set->n && n < LINES_MAX; i++)
        if (strcmp(set->rows[i].topic, topic) == 0)
            rows[n++] = &set->rows[i];
    qsort(rows, n, sizeof rows[0], by_value);
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < n; i++) {
        bk_json *line = bk_json_object();
        bk_json_put_integer(line, "n", (int64_t)i + 1);
        bk_json_put_text(line, "text", rows[i]->text);
        bk_json_put_text(line, "standing", bk_standing_name(rows[i]->standing));
        bk_json_put_text(line, "source", rows[i]->source);
        bk_json_put_text(line, "row", rows[i]->id);
        bk_json_push(list, line);
    }
    return list;
}

bk_json *bk_emergencies(void)
{
    const bk_evidence_set *set = bk_evidence_builtin();
    bk_json *cards = bk_json_array();
    for (size_t i = 0; i < set->n; i++) {
        if (!is_card(&set->rows[i]) || !is_first(set, i))
            continue;
        bk_json *card = bk_json_object();
        bk_json_put_text(card, "id", set->rows[i].topic + sizeof PREFIX - 1);
        bk_json_put_text(card, "name", set->rows[i].name);
        bk_json_put(card, "lines", lines(set, set->rows[i].topic));
        bk_json_push(cards, card);
    }
    return cards;
}
