/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/format.h"

#include <stdio.h>

void bk_format_list(char *out, size_t room, const char *format, va_list args)
{
    vsnprintf(out, room, format, args);
}

void bk_format(char *out, size_t room, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    bk_format_list(out, room, format, args);
    va_end(args);
}
