/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/app.h"

#include <time.h>

const char bk_caution[] = "Research and education; not a medical device; verify; local protocols and the operator decide.";
const char bk_engine[] = "branchkeep " BK_VERSION;

void bk_app_now(char out[32])
{
    const time_t now = time(NULL);
    struct tm utc = {0};
    gmtime_r(&now, &utc);
    strftime(out, 32, "%Y-%m-%dT%H:%M:%SZ", &utc);
}
