/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/number.h"

#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>


static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Copy text without surrounding blanks into out; false when it does not fit or is empty. */
static bool trimmed(const char *text, size_t n, char *out, size_t room)
{
    while (n > 0 && (*text == ' ' || *text == '\t')) {
        text++;
        n--;
    }
    while (n > 0 && (text[n - 1] == ' ' || text[n - 1] == '\t' || text[n - 1] == '\0'))
        n--;
    if (n == 0 || n >= room)
        return false;
    memcpy(out, text, n);
    out[n] = '\0';
    return true;
}

static const char *skip_digits(const char *p)
{
    while (is_digit(*p))
        p++;
    return p;
}

static bool has_decimal_form(const char *text)
{
    const char *p = text;
    if (*p == '+' || *p == '-')
        p++;
    const char *whole = p;
    p = skip_digits(p);
    bool any = p > whole;
    if (*p == '.') {
        const char *fraction = ++p;
        p = skip_digits(p);
        any = any || p > fraction;
    }
    if (!any)
        return false;
    if (*p == 'e' || *p == 'E') {
        p++;
        if (*p == '+' || *p == '-')
            p++;
        if (!is_digit(*p))
            return false;
        p = skip_digits(p);
    }
    return *p == '\0';
}

bool bk_number_read(const char *text, size_t n, double *out)
{
    char clean[128];
    *out = 0;
    if (!trimmed(text, n, clean, sizeof clean) || !has_decimal_form(clean))
        return false;
    /* strtod wants the locale's decimal mark; the text has a point; allow: read, never set */
    const char *mark = localeconv()->decimal_point;
    char *point = strchr(clean, '.');
    if (point && mark[0] != '.' && mark[1] == '\0')
        *point = mark[0];
    const double value = strtod(clean, NULL); /* allow: the one place */
    if (!isfinite(value))
        return false;
    *out = value;
    return true;
}

bool bk_integer_read(const char *text, size_t n, int64_t *out)
{
    char clean[32];
    *out = 0;
    if (!trimmed(text, n, clean, sizeof clean))
        return false;
    const char *digits = clean + (clean[0] == '-' || clean[0] == '+');
    if (!is_digit(*digits) || *skip_digits(digits) != '\0')
        return false;
    int64_t value = 0;
    for (; *digits; digits++)
        if (__builtin_mul_overflow(value, 10, &value) || __builtin_add_overflow(value, *digits - '0', &value))
            return false;
    *out = clean[0] == '-' ? -value : value;
    return true;
}

/* snprintf writes the locale's decimal mark: put the point back. */
static void restore_point(char *text)
{
    for (; *text; text++)
        if (!is_digit(*text) && !strchr("+-e", *text))
            *text = '.';
}

char *bk_number_print(char out[BK_NUMBER_TEXT], double value)
{
    if (value == 0)
        value = 0; /* no "-0" */
    for (int digits = 6; digits <= 17; digits++) {
        snprintf(out, BK_NUMBER_TEXT, "%.*g", digits, value);
        restore_point(out);
        double back;
        if (bk_number_read(out, strlen(out), &back) && back == value)
            break;
    }
    return out;
}

char *bk_number_fixed(char out[BK_NUMBER_TEXT], double value, int decimals)
{
    snprintf(out, BK_NUMBER_TEXT, "%.*f", decimals, value);
    restore_point(out);
    if (out[0] == '-' && strspn(out, "-0.") == strlen(out))
        memmove(out, out + 1, strlen(out));
    return out;
}

double bk_round_to(double value, int decimals)
{
    const double scale = pow(10, decimals);
    return round(value * scale) / scale;
}
