/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page's server: loopback only, for one person at one machine. */
#ifndef BK_SERVER_SERVER_H
#define BK_SERVER_SERVER_H

#include <stdio.h>

#include "base/status.h"

typedef struct bk_serve_options {
    int port;         /* 0: any free one */
    const char *data; /* folder of cases and cines; NULL: the usual place */
    FILE *out;        /* gets the line with the address to open */
    const char *shelf; /* stock list (CSV) for all answers; NULL: the built-in one that a case names */
} bk_serve_options;

/**
 * Serve until SIGINT or SIGTERM, then end cleanly: work that was accepted is finished, connections are
 * closed. Threads: one that speaks HTTP and never waits, those of three lanes of work, and the caller's,
 * which keeps the time. Errors: BK_E_IO the port is taken or the folder cannot be used; BK_E_INTERNAL no
 * thread to be had.
 */
bk_status bk_serve(const bk_serve_options *options, bk_err *err) BK_MUST_CHECK;

#endif
