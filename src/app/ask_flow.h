/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Parts of `ask flow`: before treatment in ask_flow.c, after it in ask_flow_after.c, what stands around the numbers in
   ask_flow_notes.c. */
#ifndef BK_APP_ASK_FLOW_H
#define BK_APP_ASK_FLOW_H

#include "app/answer.h"
#include "core/flow/outlook.h"

/** {"value","low","high","level_pct"}. */
bk_json *bk_flow_number_json(const bk_flow_number *number, int decimals);
/** Keys `ffr`, `flow_ml_min`, `flow_interval_ml_min` and `p_le_080_pct` of a limb. */
void bk_flow_put_limb(bk_json *out, const bk_flow_limb *limb);
/** Keys `after` (every strategy of the contract) and `further` (steps that may follow). */
void bk_flow_put_after(const bk_flow_scene *scene, const bk_flow_outlook *outlook, bk_answer *answer);

/** Why flow cannot be said, noted under missing and cautions. True: there is enough to go on. */
bool bk_flow_can_be_said(const bk_case *c, const bk_facts *facts, bk_answer *answer);
void bk_flow_note(const bk_case *c, const bk_facts *facts, const bk_flow_scene *scene, bk_answer *answer);
/** Sentences about what was assumed. */
bk_json *bk_flow_assumptions(const bk_flow_scene *scene);
/** Measured physiology of the case, newest last. */
bk_json *bk_flow_measured(const bk_case *c);
/** Of a limb before treatment, the last one of its kind: fractional flow reserve before a resting ratio; NULL: none. */
const bk_physiology *bk_flow_measured_before(const bk_case *c, int limb);

#endif
