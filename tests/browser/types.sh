#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# The page's modules as the type checker reads them (types in comments).
cd "${BK_SOURCE:?}" || exit 1
[ -x node_modules/.bin/tsc ] || { echo "SKIP: typescript is not installed (npm ci)"; exit 77; }
exec node_modules/.bin/tsc --noEmit --allowJs --checkJs --skipLibCheck --target es2022 --module esnext \
    --lib es2022,dom,dom.iterable web/js/*.js
