/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/ask.h"

#include <string.h>

#include "base/nearest.h"

typedef struct topic {
    const char *name;
    void (*answer)(const bk_case_doc *doc, bk_answer *answer); /* NULL: not in this version */
} topic;

static const topic topics[] = {
    {"indication", NULL},
    {"flow", NULL},
    {"territory", NULL},
    {"risk", NULL},
    {"protect", NULL},
    {"strategies", NULL},
    {"devices", bk_ask_devices},
    {"steps", NULL},
    {"budget", NULL},
    {"injury", NULL},
    {"result", NULL},
};

static bk_status find_topic(const char *name, const topic **out, bk_err *err)
{
    bk_nearest best = {0};
    for (size_t i = 0; i < sizeof topics / sizeof topics[0]; i++) {
        bk_nearest_offer(&best, name, topics[i].name);
        if (strcmp(topics[i].name, name) == 0) {
            *out = &topics[i];
            return topics[i].answer
                       ? BK_OK
                       : bk_fail(err, BK_E_USAGE, "topic %s is not available in this version", name);
        }
    }
    return bk_fail(err, BK_E_USAGE, "topic \"%s\" is unknown, the nearest known one is \"%s\"", name,
                   best.word);
}

bk_status bk_ask_topic(const char *name, bk_err *err)
{
    const topic *asked;
    return find_topic(name, &asked, err);
}

bk_status bk_ask(const char *name, bk_case_doc *doc, const bk_ask_options *options, bk_json **out,
                 bk_err *err)
{
    const topic *asked = NULL;
    *out = NULL;
    bk_status status = find_topic(name, &asked, err);
    if (status == BK_OK && options->what_if_n > 0)
        status = bk_case_set(doc, options->what_if, options->what_if_n, err);
    if (status != BK_OK)
        return status;
    bk_answer answer = bk_answer_start(name);
    if (options->what_if_n > 0) {
        bk_json *list = bk_json_array();
        for (int i = 0; i < options->what_if_n; i++)
            bk_json_push(list, bk_json_new_text(options->what_if[i]));
        bk_json_put(answer.json, "what_if", list);
    }
    asked->answer(doc, &answer);
    *out = bk_answer_finish(&answer);
    return BK_OK;
}
