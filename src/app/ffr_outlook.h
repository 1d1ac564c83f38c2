/* SPDX-License-Identifier: GPL-3.0-or-later */
/* FFR before and after a strategy, for answers that stand beside `ask flow`: read from that very answer, so that the
   numbers cannot differ from it. */
#ifndef BK_APP_FFR_OUTLOOK_H
#define BK_APP_FFR_OUTLOOK_H

#include "app/answer.h"

/** The flow answer of the same case and the same draws; freed with bk_json_free. */
bk_json *bk_ffr_outlook(const bk_asked *asked);

/** {"value","low","high","level_pct"} of a limb, borrowed; NULL when flow cannot say it. */
const bk_json *bk_ffr_before(const bk_json *outlook, int limb);
const bk_json *bk_ffr_after(const bk_json *outlook, enum bk_strategy strategy, int limb);

#endif
