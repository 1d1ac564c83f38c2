/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Comparing with a printed line. Values that people write in decimals meet it although doubles do not: 1.2 -
   0.9 is a rise of 0.3. Everything of core/patient and core/outcome that asks "at least" or "above" asks
   here. */
#ifndef BK_CORE_PATIENT_LINES_H
#define BK_CORE_PATIENT_LINES_H

#include <math.h>
#include <stdbool.h>

#define BK_LINE_SLACK 1e-9 /* of the line; far below any digit that a laboratory prints */

static inline double bk_line_slack(double line)
{
    return BK_LINE_SLACK * fmax(1, fabs(line));
}
static inline bool bk_at_least(double value, double line)
{
    return value >= line - bk_line_slack(line);
}
static inline bool bk_above(double value, double line)
{
    return value > line + bk_line_slack(line);
}
static inline bool bk_on_line(double value, double line)
{
    return bk_at_least(value, line) && !bk_above(value, line);
}

#endif
