/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/ask.h"

#include <string.h>

#include "app/answer.h"
#include "app/case.h"
#include "base/nearest.h"

#define MEMORY_CAP ((size_t)256 * 1024 * 1024)

typedef struct topic {
    const char *name;
    void (*answer)(const bk_asked *asked, bk_answer *out); /* NULL: not in this version */
} topic;

static const topic topics[] = {
    {"indication", NULL},
    {"flow", bk_answer_flow},
    {"territory", bk_answer_territory},
    {"risk", bk_answer_risk},
    {"protect", bk_answer_protect},
    {"strategies", NULL},
    {"devices", bk_answer_devices},
    {"steps", bk_answer_steps},
    {"budget", bk_answer_budget},
    {"injury", bk_answer_injury},
    {"result", bk_answer_result},
    {"pause", bk_answer_pause},
};

static bk_status find_topic(const char *name, const topic **out, bk_err *err)
{
    bk_nearest best = {0};
    *out = NULL;
    for (size_t i = 0; i < sizeof topics / sizeof topics[0]; i++) {
        bk_nearest_offer(&best, name, topics[i].name);
        if (strcmp(topics[i].name, name) != 0)
            continue;
        *out = &topics[i];
        return topics[i].answer ? BK_OK
                                : bk_fail(err, BK_E_USAGE, "topic %s is not available in this version", name);
    }
    return bk_fail(err, BK_E_USAGE, "topic \"%s\" is unknown, the nearest known one is \"%s\"", name,
                   best.word);
}

bk_status bk_app_ask_topic(const char *name, bk_err *err)
{
    const topic *asked;
    return find_topic(name, &asked, err);
}

const char *bk_app_ask_topic_at(size_t i)
{
    for (size_t k = 0; k < sizeof topics / sizeof topics[0]; k++)
        if (topics[k].answer && i-- == 0)
            return topics[k].name;
    return NULL;
}

/* The case with the what-ifs in it, checked and with its numbers decided. */
static bk_status prepare(const bk_ask *ask, bk_json *doc, bk_arena *arena, bk_case **c, bk_facts *facts,
                         bk_err *err)
{
    *c = BK_NEW(arena, 1, bk_case, err);
    bk_status status = *c ? BK_OK : err->status;
    for (int i = 0; status == BK_OK && i < ask->what_if_n; i++)
        status = bk_app_case_set(doc, ask->what_if[i], err);
    if (status == BK_OK)
        status = bk_app_case_check(doc, arena, *c, err);
    if (status == BK_OK)
        status = bk_app_case_facts(*c, arena, facts, err);
    return status;
}

static bk_json *what_ifs(const bk_ask *ask)
{
    bk_json *list = bk_json_array();
    for (int i = 0; i < ask->what_if_n; i++)
        bk_json_push(list, bk_json_new_text(ask->what_if[i]));
    return list;
}

bk_status bk_app_ask(const bk_ask *ask, const bk_json *case_doc, bk_json **out, bk_err *err)
{
    const topic *found;
    bk_err own = {0};
    bk_case *c;
    bk_facts facts;
    bk_arena arena;
    err = err ? err : &own;
    *out = NULL;
    bk_status status = find_topic(ask->topic, &found, err);
    if (status != BK_OK)
        return status;
    bk_arena_init(&arena, MEMORY_CAP);
    bk_json *doc = bk_json_copy(case_doc);
    status = prepare(ask, doc, &arena, &c, &facts, err);
    if (status == BK_OK) {
        bk_answer answer = bk_answer_start(ask->topic);
        if (ask->what_if_n > 0)
            bk_json_put(answer.json, "what_if", what_ifs(ask));
        const bk_asked asked = {c, &facts, {ask->samples > 0 ? ask->samples : BK_ASK_SAMPLES, ask->seed}};
        found->answer(&asked, &answer);
        *out = bk_answer_finish(&answer);
    }
    bk_json_free(doc);
    bk_arena_clear(&arena);
    return status;
}
