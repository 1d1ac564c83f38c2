/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Times as ISO 8601 text: only differences are ever needed. */
#ifndef BK_BASE_TIME_H
#define BK_BASE_TIME_H

#include <stdbool.h>

/**
 * "2026-11-25T14:05", with seconds, fractions of them, "Z" or "+01:00" behind it where given: minutes since
 * 1970-01-01T00:00. A time without zone counts as UTC, so two of one document compare when they are written
 * alike. A date alone is its midnight. false, with *minutes NaN, for anything else. Source: ISO 8601
 * calendar, proleptic Gregorian.
 */
bool bk_time_minutes(const char *text, double *minutes);

#endif
