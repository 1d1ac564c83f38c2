/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ask flow, after treatment: every strategy by where it ends, and the band of a narrowed ostium. */
#include "app/ask_flow.h"

static void put_limbs(bk_json *item, const bk_flow_scene *scene, const bk_flow_outlook *outlook, bk_end end)
{
    for (int k = BK_DISTAL; k < BK_LIMBS; k++) {
        const bool said = outlook->known[end] && bk_end_says(scene, end, k);
        bk_json *limb = said ? bk_json_object() : bk_json_new_null();
        if (said)
            bk_flow_put_limb(limb, &outlook->limb[end][k]);
        bk_json_put(item, bk_limb_names[k], limb);
    }
}

static bk_json *ostium_json(const bk_flow_scene *scene, bk_end end)
{
    const bk_flow_ostium ostium = bk_flow_ostium_of(scene, end);
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "limb", bk_limb_names[ostium.limb]);
    bk_json_put_fixed(out, "stenosis_pct", ostium.stenosis_pct, 0);
    bk_json_put_fixed(out, "ffr_oval", ostium.ffr_oval, 3);
    bk_json_put_fixed(out, "ffr_round", ostium.ffr_round, 3);
    bk_json_put_integer(out, "views", scene->two_views[ostium.limb] ? 2 : 1);
    return out;
}

static const char *why_not(const bk_flow_scene *scene, bk_end end)
{
    if (end == BK_END_SINGLE)
        return "not one limb alone has a stenosis of 50 % or more: which one is treated does not follow";
    return bk_end_narrows(end) < BK_LIMBS && !bk_has(scene->shift_deg[bk_end_narrows(end)])
               ? "the angle is missing that tells how far the main stent shifts the carina"
               : "an occlusion is opened whose length is not known";
}

static bk_json *end_json(const bk_flow_scene *scene, const bk_flow_outlook *outlook, bk_end end)
{
    bk_json *item = bk_json_object();
    bk_json_put_text(item, "end", bk_end_names[end]);
    put_limbs(item, scene, outlook, end);
    const int narrowed = bk_end_narrows(end);
    if (!outlook->known[end])
        bk_json_put_text(item, "why_not", why_not(scene, end));
    else if (narrowed < BK_LIMBS && !bk_end_says(scene, end, narrowed))
        bk_json_put_text(item, "why_not", "the distal main vessel goes on nearly straight: the carina model says nothing of "
                                          "its ostium, so its pressure cannot be said");
    else if (narrowed < BK_LIMBS)
        bk_json_put(item, "ostium", ostium_json(scene, end));
    return item;
}

/* The first strategy that ends there names the entry, the others are the same. */
static void put_strategies(bk_json *item, bk_end end)
{
    bk_json *same = bk_json_array();
    bool first = true;
    for (int s = BK_PROVISIONAL; s < BK_STRATEGIES; s++) {
        if (bk_end_of((enum bk_strategy)s) != end)
            continue;
        if (first)
            bk_json_put_text(item, "strategy", bk_strategy_names[s]);
        else
            bk_json_push(same, bk_json_new_text(bk_strategy_names[s]));
        first = false;
    }
    bk_json_put(item, "same_as", same);
}

void bk_flow_put_after(const bk_flow_scene *scene, const bk_flow_outlook *outlook, bk_answer *answer)
{
    static const bk_end further[] = {BK_END_DILATED, BK_END_BALLOONS};
    static const char *const treatment[] = {"main stent, then side balloon or kissing", "balloons only, no stent"};
    bk_json *after = bk_json_array(), *more = bk_json_array();
    bool put[BK_ENDS] = {false};
    for (int s = BK_PROVISIONAL; s < BK_STRATEGIES; s++) {
        const bk_end end = bk_end_of((enum bk_strategy)s);
        if (put[end])
            continue;
        put[end] = true;
        bk_json *item = end_json(scene, outlook, end);
        put_strategies(item, end);
        bk_json_push(after, item);
        if (!outlook->known[end])
            bk_answer_missing(answer, bk_end_lacks(scene, end), why_not(scene, end));
    }
    for (int i = 0; i < 2; i++) {
        bk_json *item = end_json(scene, outlook, further[i]);
        bk_json_put_text(item, "treatment", treatment[i]);
        bk_json_push(more, item);
    }
    bk_json_put(answer->json, "after", after);
    bk_json_put(answer->json, "further", more);
}
