#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Nothing in the repository depends on the machine it was written on: no absolute paths of somebody's folders.
. "$(dirname "$0")/common.sh"
files '*' | grep -vE '^(LICENSE|tests/checks/words\.sh)$|\.(png|dcm|gz)$' | while read -r file; do
    [ -f "$file" ] && grep -nIE '(^|[^A-Za-z0-9_.$}])/(home|root|work|Users)/[A-Za-z0-9_]' /dev/null "$file" || true
    case $file in
    *.md) grep -nE '(^|[^A-Za-z0-9_])/tmp/' /dev/null "$file" || true ;;
    esac
done | verdict "paths relative to the repository"
