/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/space/position.h"

#include <math.h>

#include "base/format.h"

char *bk_position_words(char out[BK_POSITION_WORDS], double primary_deg, double secondary_deg)
{
    const double primary = round(primary_deg), secondary = round(secondary_deg);
    char turn[16] = "AP";
    if (primary != 0)
        bk_format(turn, sizeof turn, "%s %.0f", primary > 0 ? "LAO" : "RAO", fabs(primary));
    if (secondary == 0) /* no tilt is not said */
        bk_format(out, BK_POSITION_WORDS, "%s", turn);
    else
        bk_format(out, BK_POSITION_WORDS, "%s, %s %.0f", turn, secondary > 0 ? "cranial" : "caudal", fabs(secondary));
    return out;
}
