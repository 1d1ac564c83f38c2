/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by the topics about the side branch: inputs, what is missing, certainties and rates in words and
 * JSON. */
#ifndef BK_APP_ASK_BRANCH_H
#define BK_APP_ASK_BRANCH_H

#include "app/answer.h"
#include "core/plan/steps.h"
#include "core/risk/proportion.h"

/** Inputs that were used, of the bits 1 << bk_risk_input; facts in words besides. */
void bk_branch_note_inputs(const bk_asked *asked, unsigned bits, bk_answer *answer);

/**
 * One entry of `missing` for each input of bits that is not there or was seen in one view only; needed_by:
 * what it would change ("rule side_60").
 */
void bk_branch_note_missing(const bk_risk_inputs *inputs, unsigned bits, const char *needed_by,
                            bk_answer *answer);

/** The fact behind a factor or rule is unknown: name what would say it. */
void bk_branch_note_missing_fact(bk_risk_fact fact, const char *needed_by, bk_answer *answer);

/** threshold_certainty_pct, and in words "6 in 10 that it is really at least 60 %"; both null when not known.
 */
void bk_branch_put_certainty(bk_json *out, double certainty_pct, const bk_test *test);

/** A value or line of a quantity, in as many decimals as its unit deserves. */
void bk_branch_put_amount(bk_json *out, const char *key, double value, const char *unit);

/** What lies in the side branch while a step is done. */
const char *bk_branch_wire_words(bk_side_wire side);

/** {"value","low","high","level_pct"}; null when not known. */
bk_json *bk_branch_proportion(bk_proportion pct);

/** "side branch stenosis at least 60 %"; for a fact its words, or those given where it has none. */
void bk_branch_rule_text(char *out, size_t room, const bk_test *test, const char *fact_words);

/** Unit of what a test looks at; NULL for a fact. */
const char *bk_branch_unit(const bk_test *test);

/** Cautions that every answer about the branch carries. */
void bk_branch_cautions(const bk_asked *asked, bk_answer *answer);

#endif
