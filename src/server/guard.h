/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Who may ask. A loopback address does not keep out the web pages that the same browser shows: they can send
   to it under a name of their own (Host), from their own place (Origin), but cannot know the token and are
   not given the cookie. Every test here is exact; nothing is matched by its beginning.
   docs/decisions/0010-the-server.md */
#ifndef BK_SERVER_GUARD_H
#define BK_SERVER_GUARD_H

#include <stdbool.h>
#include <stddef.h>

#include "base/status.h"

#define BK_SECRET_TEXT 33 /* 128 bits as hexadecimal digits and a zero */

typedef struct bk_guard {
    int port;
    char token[BK_SECRET_TEXT];   /* goes into the address that is printed, behind '#', which no browser sends
                                     on */
    char session[BK_SECRET_TEXT]; /* goes into the cookie */
    char cookie[24];              /* its name: cookies do not keep ports apart, so the name does */
} bk_guard;

/** New secrets from the system. Errors: BK_E_IO none to be had. */
bk_status bk_guard_start(bk_guard *guard, int port, bk_err *err) BK_MUST_CHECK;

/** 127.0.0.1, [::1] or localhost, with this port. NULL: not. */
bool bk_guard_host(const bk_guard *guard, const char *host);
/** "http://" before one of those. */
bool bk_guard_origin(const bk_guard *guard, const char *origin);
/** Does a Cookie header hold the session? */
bool bk_guard_cookie(const bk_guard *guard, const char *header);
/** In a time that does not tell how much of it is right. */
bool bk_guard_token(const bk_guard *guard, const char *token);

#endif
