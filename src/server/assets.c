/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "server/assets.h"

#include <string.h>

const bk_asset *bk_asset_find(const char *path)
{
    const char *wanted = strcmp(path, "/") == 0 ? "/index.html" : path;
    for (size_t i = 0; i < bk_assets_n; i++)
        if (strcmp(bk_assets[i].path, wanted) == 0)
            return &bk_assets[i];
    return NULL;
}
