#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# What the tests of the page need from the package registry, by package-lock.json. Without a network they are skipped.
cd "$(dirname "$0")/.." || exit 1
[ -d node_modules/playwright-core ] && exit 0
command -v npm >/dev/null && npm ci --silent --no-audit --no-fund >/dev/null 2>&1 ||
    echo "the packages for the tests of the page could not be fetched: those tests are skipped"
