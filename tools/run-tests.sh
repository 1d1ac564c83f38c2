#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Run the test suites of a build folder and end with one line: N passed, N failed, N skipped.
#   run-tests.sh BUILD [SUITE ...]
set -u
build=$1
shift
suites=""
for suite in "$@"; do suites="$suites --suite $suite"; done
# shellcheck disable=SC2086
meson test -C "$build" --no-rebuild --print-errorlogs $suites
status=$?
python3 tools/count-tests.py "$build/meson-logs/testlog.json" || exit 1
exit $status
