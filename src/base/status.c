/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/status.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static void make_printable(char *text)
{
    for (; *text; text++)
        if ((unsigned char)*text < 0x20 || *text == 0x7f)
            *text = '?';
}

bk_status bk_fail(bk_err *err, bk_status status, const char *format, ...)
{
    if (!err || err->status != BK_OK)
        return err ? err->status : status;
    va_list args;
    va_start(args, format);
    vsnprintf(err->message, sizeof err->message, format, args);
    va_end(args);
    make_printable(err->message);
    err->status = status;
    return status;
}

bk_status bk_fail_in(bk_err *err, const char *context)
{
    if (!err || err->status == BK_OK)
        return err ? BK_OK : BK_E_INTERNAL;
    char old[sizeof err->message];
    memcpy(old, err->message, sizeof old);
    const size_t room = sizeof err->message - 3;
    const size_t head = strlen(context) < room / 2 ? strlen(context) : room / 2;
    snprintf(err->message, sizeof err->message, "%.*s: %.*s", (int)head, context, (int)(room - head), old);
    make_printable(err->message);
    return err->status;
}

int bk_exit_code(bk_status status)
{
    switch (status) {
    case BK_OK:
        return 0;
    case BK_E_NOTHING:
        return 1;
    case BK_E_USAGE:
        return 2;
    case BK_E_DATA:
    case BK_E_LIMIT:
        return 3;
    case BK_E_IO:
        return 4;
    case BK_E_INTERNAL:
        break;
    }
    return 70;
}
