# SPDX-License-Identifier: GPL-3.0-or-later
# For the other checks: . "$(dirname "$0")/common.sh"   They run in the source folder and print one line per finding.
set -eu
cd "$(dirname "$0")/../.."

skip() {
    echo "SKIP: $1"
    exit 77
}
# Files of the repository whose names match the patterns, sorted; also where there is no git.
files() { # PATTERN...
    if [ -e .git ] && command -v git >/dev/null; then
        git -c safe.directory='*' ls-files --cached --others --exclude-standard -- "$@"
    else
        for pattern; do find . -path './build*' -prune -o -type f -name "$pattern" -print | sed 's|^\./||'; done
    fi | sort -u
}
# Findings on stdin: shown, and the check fails when there are any.
verdict() { # WHAT WAS EXPECTED
    found=$(cat)
    [ -z "$found" ] && exit 0
    echo "$found"
    echo "$(echo "$found" | wc -l) found; expected: $1"
    exit 1
}
