/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Of `ask strategies`: what was published of each, and its FFR. */
#include <math.h>
#include <string.h>

#include "app/ask_strategies.h"
#include "app/ffr_outlook.h"

/* ---- loss, each source by itself ---- */

static const bk_comparison *comparison_of(const char *id)
{
    const bk_comparison *c = bk_comparisons;
    while (c->id && strcmp(c->id, id) != 0)
        c++;
    return c->id ? c : NULL;
}

static bk_json *arm_json(const bk_loss_arm *arm, const bk_strategies_setting *s)
{
    const bk_evidence_set *evidence = bk_evidence_builtin();
    const bk_comparison *c = comparison_of(arm->comparison);
    const bk_evidence *row = bk_evidence_find(evidence, arm->first ? c->a_row : c->b_row);
    const char *lesions = arm->first ? c->a_lesions_row : c->b_lesions_row;
    bk_proportion rate = {row->value, (double)NAN, (double)NAN};
    bk_json *out = bk_json_object();
    if (lesions) {
        const double n = bk_evidence_value(evidence, lesions);
        rate = bk_wilson(round(n * row->value / 100), n);
        rate.pct = row->value;
    }
    bk_json_put_text(out, "source", row->id);
    bk_json_put_text(out, "arm", arm->first ? c->arm_a : c->arm_b);
    bk_json_put_text(out, "against", arm->first ? c->arm_b : c->arm_a);
    bk_json_put(out, "pct", bk_branch_proportion(rate));
    bk_json_put_text(out, "this_case_belongs", bk_tri_name(bk_comparison_belongs(c, s->protect, s->inputs, evidence)));
    bk_json_put_text(out, "end_point", row->end_point);
    bk_json_put_text(out, "population", row->population);
    bk_json_put_text(out, "design", c->design);
    bk_json_put_text(out, "standing", bk_standing_name(row->standing));
    bk_answer_source(s->answer, row->id);
    return out;
}

bk_json *bk_strategies_loss(enum bk_strategy strategy, const bk_strategies_setting *s)
{
    bk_json *list = bk_json_array();
    for (const bk_loss_arm *arm = bk_loss_arms; arm->comparison; arm++)
        if (arm->strategy == strategy)
            bk_json_push(list, arm_json(arm, s));
    return list;
}

/* ---- FFR ---- */

static bk_json *copy_or_null(const bk_json *value)
{
    return value ? bk_json_copy(value) : bk_json_new_null();
}

bk_json *bk_strategies_ffr(enum bk_strategy strategy, const bk_strategies_setting *s)
{
    bk_json *out = bk_json_object();
    bool any = false;
    for (int limb = BK_DISTAL; limb <= BK_SIDE; limb++) {
        const bk_json *before = bk_ffr_before(s->outlook, limb), *after = bk_ffr_after(s->outlook, strategy, limb);
        bk_json *both = bk_json_object();
        bk_json_put(both, "before", copy_or_null(before));
        bk_json_put(both, "after", copy_or_null(after));
        bk_json_put(out, bk_limb_names[limb], both);
        any = any || before || after;
    }
    if (any)
        return out;
    bk_json_free(out);
    return bk_json_new_null();
}

/* ---- rows for and against ---- */

bk_json *bk_strategies_rows(const char *const rows[], bk_answer *answer)
{
    bk_json *list = bk_json_array();
    for (; *rows; rows++) {
        const bk_evidence *row = bk_evidence_find(bk_evidence_builtin(), *rows);
        bk_json *entry = bk_json_object();
        bk_json_put_text(entry, "source", row->id);
        bk_json_put_text(entry, "name", row->name);
        bk_json_put_text(entry, "text", row->text);
        bk_json_put_text(entry, "end_point", row->end_point);
        bk_json_put_text(entry, "population", row->population);
        bk_json_put_text(entry, "standing", bk_standing_name(row->standing));
        bk_json_push(list, entry);
        bk_answer_source(answer, row->id);
    }
    return list;
}
