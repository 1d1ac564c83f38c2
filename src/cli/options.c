/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <string.h>

#include "base/nearest.h"
#include "base/number.h"
#include "cli/cli.h"

static const bk_option *find_option(const bk_option *options, const char *name, size_t n)
{
    for (; options->name; options++)
        if (strlen(options->name) == n && strncmp(options->name, name, n) == 0)
            return options;
    return NULL;
}

static bk_status unknown_option(const bk_option *options, const char *asked, bk_err *err)
{
    bk_nearest best = {0};
    for (; options->name; options++)
        bk_nearest_offer(&best, asked, options->name);
    if (!best.word)
        return bk_fail(err, BK_E_USAGE, "option --%s was found, this command takes none", asked);
    return bk_fail(err, BK_E_USAGE, "option --%s is unknown, the nearest known one is --%s", asked, best.word);
}

static bk_status store_value(const bk_option *option, const char *value, bk_err *err)
{
    if (option->repeat_max > 0) {
        if (*option->repeat_n >= option->repeat_max)
            return bk_fail(err, BK_E_USAGE, "option --%s was given more than %d times", option->name,
                           option->repeat_max);
        option->value[(*option->repeat_n)++] = value;
        return BK_OK;
    }
    if (*option->value)
        return bk_fail(err, BK_E_USAGE, "option --%s was given twice, once was expected", option->name);
    *option->value = value;
    return BK_OK;
}

/* Handle argv[*at], which begins with "--"; moves *at past what was used. */
static bk_status read_option(int argc, char **argv, int *at, const bk_option *options, bk_err *err)
{
    const char *name = argv[*at] + 2;
    const char *equals = strchr(name, '=');
    const size_t n = equals ? (size_t)(equals - name) : strlen(name);
    const bk_option *option = find_option(options, name, n);
    if (!option)
        return unknown_option(options, name, err);
    (*at)++;
    if (!option->takes_value) {
        if (equals)
            return bk_fail(err, BK_E_USAGE, "option --%s takes no value, \"%s\" was found", option->name, equals + 1);
        return store_value(option, "", err);
    }
    if (equals)
        return store_value(option, equals + 1, err);
    if (*at >= argc)
        return bk_fail(err, BK_E_USAGE, "option --%s ends the line, a value was expected", option->name);
    return store_value(option, argv[(*at)++], err);
}

bk_status bk_options_read(int argc, char **argv, const bk_option *options, const char **words, int words_max,
                          int *words_n, bk_err *err)
{
    *words_n = 0;
    for (int at = 0; at < argc;) {
        if (strncmp(argv[at], "--", 2) == 0 && argv[at][2]) {
            if (read_option(argc, argv, &at, options, err) != BK_OK)
                return BK_E_USAGE;
        } else if (*words_n >= words_max) {
            return bk_fail(err, BK_E_USAGE, "unexpected word \"%s\", at most %d plain words were expected", argv[at],
                           words_max);
        } else {
            words[(*words_n)++] = argv[at++];
        }
    }
    return BK_OK;
}

bk_status bk_option_numbers(const char *name, const char *text, int n, double *out, bk_err *err)
{
    const char *at = text;
    for (int i = 0; i < n; i++) {
        const size_t length = strcspn(at, ",");
        const bool last = i == n - 1;
        if (!bk_number_read(at, length, &out[i]) || (at[length] == ',') == last)
            return bk_fail(err, BK_E_USAGE, "--%s \"%s\" was found, %d number%s with commas between were expected",
                           name, text, n, n == 1 ? "" : "s");
        at += length + 1;
    }
    return BK_OK;
}

bk_status bk_option_integer(const char *name, const char *text, long low, long high, long *out, bk_err *err)
{
    int64_t value;
    if (!bk_integer_read(text, strlen(text), &value) || value < low || value > high)
        return bk_fail(err, BK_E_USAGE, "--%s \"%s\" was found, a whole number from %ld to %ld was expected", name,
                       text, low, high);
    *out = (long)value;
    return BK_OK;
}
