/* SPDX-License-Identifier: GPL-3.0-or-later */
/* HTTP: from the library's callbacks to a request that a route can answer, and back. */
#ifndef BK_SERVER_HTTP_H
#define BK_SERVER_HTTP_H

#include "server/request.h"

/** A socket on 127.0.0.1; *port is the one that was got. Errors: BK_E_IO. */
bk_status bk_http_listen(int *port, int *out, bk_err *err) BK_MUST_CHECK;
/** Answer on it from now on; takes the socket over. */
bk_status bk_http_start(bk_server *server, int socket, bk_err *err) BK_MUST_CHECK;
/** Call it when no connection is suspended any more. */
void bk_http_stop(bk_server *server);

#endif
