/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Parts of `ask flow`: the numbers are in ask_flow.c, what stands around them in ask_flow_notes.c. */
#ifndef BK_APP_ASK_FLOW_H
#define BK_APP_ASK_FLOW_H

#include "app/answer.h"
#include "core/flow/scene.h"

/** Why flow cannot be said, noted under missing and cautions. True: there is enough to go on. */
bool bk_flow_can_be_said(const bk_case *c, const bk_facts *facts, bk_answer *answer);
void bk_flow_note(const bk_case *c, const bk_facts *facts, const bk_flow_scene *scene, bk_answer *answer);
/** Sentences about what was assumed. */
bk_json *bk_flow_assumptions(const bk_flow_scene *scene);
/** Measured physiology of the case. */
bk_json *bk_flow_measured(const bk_case *c);

#endif
