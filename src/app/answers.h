/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One function a topic, and what all answers share. Each fills inputs, missing, its own keys, sources, cautions. */
#ifndef BK_APP_ANSWERS_H
#define BK_APP_ANSWERS_H

#include "base/evidence.h"
#include "base/json.h"
#include "core/case/facts.h"

bk_status bk_answer_devices(const bk_case *c, const bk_facts *facts, bk_json *out, bk_err *err) BK_MUST_CHECK;

/** {name, value, unit, origin} into a list. */
void bk_answer_input(bk_json *inputs, const char *name, bk_qty q, const char *unit);
/** {name, why} into a list. */
void bk_answer_missing(bk_json *missing, const char *name, const char *why);
/** {id, text, doi, standing, edition} of an evidence row into a list, once. */
void bk_answer_source(bk_json *sources, const char *evidence_id);

#endif
