/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by the two files of `ask protect`. Each puts its own keys, with what is missing and the sources. */
#ifndef BK_APP_ASK_PROTECT_H
#define BK_APP_ASK_PROTECT_H

#include "app/ask_branch.h"

void bk_protect_put_exposed(const bk_asked *asked, bk_answer *answer);
void bk_protect_put_harms(bk_answer *answer);
void bk_protect_put_stake(const bk_asked *asked, bk_answer *answer);

#endif
