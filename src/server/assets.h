/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page's files, compiled in from web/ by tools/embed.c: no folder is read, so no path leads out of one.
 */
#ifndef BK_SERVER_ASSETS_H
#define BK_SERVER_ASSETS_H

#include <stddef.h>

typedef struct bk_asset {
    const char *path; /* "/js/main.js" */
    const char *type;
    const unsigned char *bytes;
    size_t n;
} bk_asset;

extern const bk_asset bk_assets[];
extern const size_t bk_assets_n;

/** NULL: there is no such file. "/" is the page. */
const bk_asset *bk_asset_find(const char *path);

#endif
