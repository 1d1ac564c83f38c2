/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bodies: JSON into memory with a cap, files into a temporary file as they come. */
#ifndef BK_SERVER_BODY_H
#define BK_SERVER_BODY_H

#include "server/request.h"

/** Before the body: is its announced length and type acceptable? Replies when not. */
bool bk_body_expect(bk_request *request);
/** Take a piece; replies when there is too much, or it comes too slowly. */
void bk_body_take(bk_request *request, const char *bytes, size_t n);
/** Has all come that was announced? */
bool bk_body_whole(const bk_request *request);
void bk_body_drop(bk_request *request);

#endif
