/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Text into a fixed buffer, cut when it does not fit; the only printf that core uses. */
#ifndef BK_BASE_FORMAT_H
#define BK_BASE_FORMAT_H

#include <stdarg.h>
#include <stddef.h>

#include "base/status.h"

void bk_format(char *out, size_t room, const char *format, ...) BK_PRINTF(3, 4);
void bk_format_list(char *out, size_t room, const char *format, va_list args) BK_PRINTF(3, 0);

#endif
