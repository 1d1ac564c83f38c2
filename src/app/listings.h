/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the program knows about itself: the inputs it takes and the published numbers it uses. */
#ifndef BK_APP_LISTINGS_H
#define BK_APP_LISTINGS_H

#include "base/json.h"

/** Rows of a topic (a member of the case document); NULL: of all. Errors: BK_E_USAGE unknown topic. */
bk_status bk_list_fields(const char *topic, bk_json **out, bk_err *err) BK_MUST_CHECK;
/**
 * One evidence row by its id; or the rows of a topic, or of all topics that begin with the word and "_"
 * ("emergency": all emergency cards); all when word is NULL. Errors: BK_E_USAGE unknown word.
 */
bk_status bk_list_evidence(const char *word, bk_json **out, bk_err *err) BK_MUST_CHECK;

#endif
