/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a what-if turns over: two answers to one question, compared. */
#ifndef BK_APP_FLIPS_H
#define BK_APP_FLIPS_H

#include "base/json.h"

/**
 * flips[{what, from, to}] of two answers of one topic: every rule, factor, verdict, scope and order that differs, found
 * by the ids of the entries; what is a path as rules.side_60.met. Where before has a place (see `ask protect`), it is
 * kept in after as place_before. before NULL: the case without the what-if cannot be answered, flips is null.
 */
void bk_flips_put(const bk_json *before, bk_json *after);

#endif
