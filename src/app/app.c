/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/app.h"

const char bk_caution[] = "Research and education; not a medical device; verify; local protocols and the operator decide.";
const char bk_engine[] = "branchkeep " BK_VERSION;
