/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/time.h"

#include <math.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include "base/number.h"

/* Exactly n digits at the front of *text; moves behind them. -1: not so. */
static int digits(const char **text, size_t n)
{
    int out = 0;
    for (size_t i = 0; i < n; i++) {
        const char c = (*text)[i];
        if (c < '0' || c > '9')
            return -1;
        out = 10 * out + (c - '0');
    }
    *text += n;
    return out;
}

static bool skip(const char **text, char c)
{
    if (**text != c)
        return false;
    (*text)++;
    return true;
}

static bool is_date(int year, int month, int day)
{
    static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    if (year < 1 || month < 1 || month > 12)
        return false;
    return day >= 1 && day <= days[month - 1] + (leap && month == 2);
}

/* Days since 1970-01-01: whole 400-year cycles of 146097 days, years that begin in March. */
static int64_t days_of(int year, int month, int day)
{
    const int64_t y = month <= 2 ? year - 1 : year, m = month <= 2 ? month + 9 : month - 3;
    return 365 * y + y / 4 - y / 100 + y / 400 + (153 * m + 2) / 5 + day - 1 - 719468;
}

/* ":SS" and ".fff", where given. */
static double seconds(const char **text)
{
    if (!skip(text, ':'))
        return 0;
    const int whole = digits(text, 2);
    double part = 0, place = 0.1;
    if (whole < 0 || whole > 60)
        return (double)NAN;
    if (skip(text, '.'))
        for (; **text >= '0' && **text <= '9'; (*text)++, place /= 10)
            part += place * (**text - '0');
    return whole + part;
}

/* "Z", "+HH:MM", "-HH:MM" or nothing: minutes ahead of UTC. */
static double zone(const char **text)
{
    if (skip(text, 'Z') || **text == '\0')
        return 0;
    const int sign = skip(text, '+') ? 1 : skip(text, '-') ? -1 : 0;
    const int hours = sign ? digits(text, 2) : -1;
    const int minutes = hours >= 0 && skip(text, ':') ? digits(text, 2) : -1;
    return minutes < 0 || hours > 23 || minutes > 59 ? (double)NAN : sign * (60.0 * hours + minutes);
}

bool bk_time_minutes(const char *text, double *minutes)
{
    *minutes = (double)NAN;
    const int year = digits(&text, 4);
    const int month = year >= 0 && skip(&text, '-') ? digits(&text, 2) : -1;
    const int day = month >= 0 && skip(&text, '-') ? digits(&text, 2) : -1;
    if (!is_date(year, month, day))
        return false;
    double out = 1440.0 * (double)days_of(year, month, day);
    if (*text) {
        const int hour = skip(&text, 'T') || skip(&text, ' ') ? digits(&text, 2) : -1;
        const int minute = hour >= 0 && skip(&text, ':') ? digits(&text, 2) : -1;
        if (minute < 0 || hour > 23 || minute > 59)
            return false;
        out += 60.0 * hour + minute + seconds(&text) / 60;
        out -= zone(&text);
        if (*text || isnan(out))
            return false;
    }
    *minutes = out;
    return true;
}
