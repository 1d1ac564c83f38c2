/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Answers: pure functions of a case (contract: branchkeep.answer/1). */
#ifndef BK_APP_ASK_H
#define BK_APP_ASK_H

#include "base/json.h"

typedef struct bk_ask {
    const char *topic;
    const char *const *what_if; /* PATH=VALUE, applied to a copy */
    int what_if_n;
    int samples;   /* draws for certainties and stability; 0: BK_ASK_SAMPLES */
    uint64_t seed; /* the same seed gives the same answer */
} bk_ask;
#define BK_ASK_SAMPLES 10000

/** Can this be asked? Errors: BK_E_USAGE unknown topic (names the nearest). */
bk_status bk_app_ask_topic(const char *topic, bk_err *err) BK_MUST_CHECK;

/** Topics of this version, one by one from 0; NULL behind the last. */
const char *bk_app_ask_topic_at(size_t i);

/**
 * Answer a topic from a case document as branchkeep.answer/1. The case is not changed. With what-ifs the answer says
 * in `flips` what they turn over (app/flips.h).
 * Errors: BK_E_USAGE unknown topic; BK_E_DATA the case, with the what-ifs, does not pass its checks.
 */
bk_status bk_app_ask(const bk_ask *ask, const bk_json *case_doc, bk_json **out, bk_err *err) BK_MUST_CHECK;

/** The same with a stock list from a file instead of the one that the case names; NULL: none. Errors: as above, and those of the list. */
bk_status bk_app_ask_with(const bk_ask *ask, const char *shelf_file, const bk_json *case_doc, bk_json **out, bk_err *err) BK_MUST_CHECK;
/** The picture of an answer of topic protect as an SVG file. Errors: BK_E_IO, BK_E_INTERNAL. */
bk_status bk_app_ask_svg(const bk_json *answer, const char *path, bk_err *err) BK_MUST_CHECK;

#endif
