#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# The layout is clang-format's (.clang-format); put it right with: tests/checks/format.sh --fix
. "$(dirname "$0")/common.sh"
command -v clang-format >/dev/null || skip "clang-format is not installed"
case "$(clang-format --version)" in
*" 14."*) ;;
*) skip "clang-format 14 (Debian 12) was expected: other versions lay out differently" ;;
esac
if [ "${1:-}" = --fix ]; then
    files '*.c' '*.cc' '*.h' | xargs clang-format -i
    exit 0
fi
files '*.c' '*.cc' '*.h' | while read -r file; do
    clang-format "$file" | cmp -s - "$file" || echo "$file"
done | verdict "files laid out by clang-format (tests/checks/format.sh --fix)"
