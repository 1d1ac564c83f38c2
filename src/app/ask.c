/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/ask.h"

#include <string.h>

#include "app/app.h"
#include "app/answers.h"
#include "app/case.h"
#include "base/nearest.h"

#define MEMORY_CAP ((size_t)256 * 1024 * 1024)

static const struct {
    const char *name;
    bk_status (*answer)(const bk_case *c, const bk_facts *facts, bk_json *out, bk_err *err);
} topics[] = {{"devices", bk_answer_devices}};

/* Topics of the contract that later versions answer. */
static const char *const later[] = {"indication", "flow", "territory", "risk", "protect", "strategies", "steps", "budget", "injury", "result"};

const char *const bk_ask_topics[] = {"devices", NULL};

static bk_status unknown_topic(const char *asked, bk_err *err)
{
    bk_nearest best = {0};
    for (size_t i = 0; i < sizeof later / sizeof later[0]; i++) {
        if (strcmp(asked, later[i]) == 0)
            return bk_fail(err, BK_E_USAGE, "topic %s cannot be asked in this version, devices can", asked);
        bk_nearest_offer(&best, asked, later[i]);
    }
    bk_nearest_offer(&best, asked, "devices");
    return bk_fail(err, BK_E_USAGE, "topic \"%s\" is unknown, the nearest known one is %s", asked, best.word);
}

static bk_status answer(const bk_ask *ask, size_t topic, bk_json *doc, bk_arena *arena, bk_json *out, bk_err *err)
{
    bk_case *c = BK_NEW(arena, 1, bk_case, err);
    bk_facts facts;
    bk_status status = c ? BK_OK : err->status;
    for (int i = 0; status == BK_OK && i < ask->what_if_n; i++)
        status = bk_app_case_set(doc, ask->what_if[i], err);
    if (status == BK_OK)
        status = bk_app_case_check(doc, arena, c, err);
    if (status == BK_OK)
        status = bk_app_case_facts(c, arena, &facts, err);
    if (status != BK_OK)
        return status;
    bk_json_put_text(out, "schema", "branchkeep.answer/1");
    bk_json_put_text(out, "topic", ask->topic);
    bk_json_put_text(out, "engine", bk_engine);
    return topics[topic].answer(c, &facts, out, err);
}

bk_status bk_app_ask(const bk_ask *ask, const bk_json *case_doc, bk_json **out, bk_err *err)
{
    size_t topic = 0;
    *out = NULL;
    while (topic < sizeof topics / sizeof topics[0] && strcmp(topics[topic].name, ask->topic) != 0)
        topic++;
    if (topic == sizeof topics / sizeof topics[0])
        return unknown_topic(ask->topic, err);
    bk_arena arena;
    bk_arena_init(&arena, MEMORY_CAP);
    bk_json *doc = bk_json_copy(case_doc), *made = bk_json_object();
    const bk_status status = answer(ask, topic, doc, &arena, made, err);
    bk_json_free(doc);
    bk_arena_clear(&arena);
    if (status == BK_OK)
        *out = made;
    else
        bk_json_free(made);
    return status;
}
