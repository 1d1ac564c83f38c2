/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/ffr_outlook.h"

#include <string.h>

bk_json *bk_ffr_outlook(const bk_asked *asked)
{
    bk_answer answer = bk_answer_start("flow");
    bk_answer_flow(asked, &answer);
    return bk_answer_finish(&answer);
}

static const bk_json *said(const bk_json *limbs, int limb)
{
    const bk_json *ffr = bk_json_get(bk_json_get(limbs, bk_limb_names[limb]), "ffr");
    return bk_json_is_object(ffr) && bk_json_is_number(bk_json_get(ffr, "value")) ? ffr : NULL;
}

const bk_json *bk_ffr_before(const bk_json *outlook, int limb)
{
    return said(bk_json_get(outlook, "before"), limb);
}

/* An entry stands for its own strategy and for those it names as the same. */
static bool stands_for(const bk_json *entry, const char *strategy)
{
    const bk_json *same = bk_json_get(entry, "same_as");
    if (strcmp(bk_json_text(bk_json_get(entry, "strategy")), strategy) == 0)
        return true;
    for (size_t i = 0; i < bk_json_count(same); i++)
        if (strcmp(bk_json_text(bk_json_at(same, i)), strategy) == 0)
            return true;
    return false;
}

const bk_json *bk_ffr_after(const bk_json *outlook, enum bk_strategy strategy, int limb)
{
    const bk_json *after = bk_json_get(outlook, "after");
    for (size_t i = 0; i < bk_json_count(after); i++)
        if (stands_for(bk_json_at(after, i), bk_strategy_names[strategy]))
            return said(bk_json_at(after, i), limb);
    return NULL;
}
