/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/ask.h"

#include <stdlib.h>
#include <string.h>

#include "app/answer.h"
#include "app/case.h"
#include "app/flips.h"
#include "app/shelf.h"
#include "base/file.h"
#include "base/nearest.h"
#include "report/report.h"

#define MEMORY_CAP ((size_t)256 * 1024 * 1024)

typedef struct topic {
    const char *name;
    void (*answer)(const bk_asked *asked, bk_answer *out);
} topic;

static const topic topics[] = {
    {"indication", bk_answer_indication},
    {"flow", bk_answer_flow},
    {"territory", bk_answer_territory},
    {"risk", bk_answer_risk},
    {"protect", bk_answer_protect},
    {"strategies", bk_answer_strategies},
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
        return BK_OK;
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
    return i < sizeof topics / sizeof topics[0] ? topics[i].name : NULL;
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

static bk_status answer_one(const bk_ask *ask, const topic *found, const char *shelf_file, const bk_json *case_doc, bk_json **out, bk_err *err)
{
    bk_case *c;
    bk_facts facts;
    bk_arena arena;
    *out = NULL;
    bk_arena_init(&arena, MEMORY_CAP);
    bk_json *doc = bk_json_copy(case_doc);
    bk_stock stock;
    bool stocked = false;
    bk_status status = prepare(ask, doc, &arena, &c, &facts, err);
    if (status == BK_OK)
        status = bk_app_shelf_read(shelf_file, c->shelf, &arena, &stock, &stocked, err);
    if (status == BK_OK) {
        bk_answer answer = bk_answer_start(ask->topic);
        if (ask->what_if_n > 0)
            bk_json_put(answer.json, "what_if", what_ifs(ask));
        const bk_asked asked = {c, &facts, {ask->samples > 0 ? ask->samples : BK_ASK_SAMPLES, ask->seed}, ask->samples > 0, &stock, stocked};
        found->answer(&asked, &answer);
        *out = bk_answer_finish(&answer);
    }
    bk_json_free(doc);
    bk_arena_clear(&arena);
    return status;
}

bk_status bk_app_ask(const bk_ask *ask, const bk_json *case_doc, bk_json **out, bk_err *err)
{
    return bk_app_ask_with(ask, NULL, case_doc, out, err);
}

bk_status bk_app_ask_with(const bk_ask *ask, const char *shelf_file, const bk_json *case_doc, bk_json **out, bk_err *err)
{
    const topic *found;
    bk_err own = {0}, without = {0};
    err = err ? err : &own;
    *out = NULL;
    bk_status status = find_topic(ask->topic, &found, err);
    if (status == BK_OK)
        status = answer_one(ask, found, shelf_file, case_doc, out, err);
    if (status != BK_OK || ask->what_if_n == 0)
        return status;
    const bk_ask plain = {ask->topic, NULL, 0, ask->samples, ask->seed};
    bk_json *before = NULL;
    if (answer_one(&plain, found, shelf_file, case_doc, &before, &without) != BK_OK)
        before = NULL; // the what-if mends the case: nothing to compare with
    bk_flips_put(before, *out);
    bk_json_free(before);
    return BK_OK;
}

bk_status bk_app_ask_svg(const bk_json *answer, const char *path, bk_err *err)
{
    bk_report_bytes svg = {0};
    bk_status status = bk_strata_svg(answer, &svg, err);
    if (status == BK_OK)
        status = bk_file_write(path, svg.bytes, svg.n, err);
    free(svg.bytes);
    return status;
}
