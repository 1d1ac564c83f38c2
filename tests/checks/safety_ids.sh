#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Every test named in the hazard log exists, every hazard named on another page is in the log, and no number is used twice.
. "$(dirname "$0")/common.sh"
log=docs/safety/hazards.md
rows=$(grep -E '^\| H[0-9]+ ' $log)
known=$(echo "$rows" | sed 's/^| \(H[0-9]*\) .*/\1/')
{
    echo "$known" | sort | uniq -d | sed 's/$/ is used twice/'
    echo "$rows" | grep -vE '\| *(`[a-z0-9_/.]+`(, )?)+ *\|$|\| open: [^|`]+\|$' | sed 's/ | .*/: the last column holds neither tests nor "open: reason"/'
    for test in $(echo "$rows" | grep -oE '`[a-z0-9_/.]+`' | tr -d '`' | sort -u); do
        case $test in
        validation/*) [ -e "$test" ] ;;
        *.sh) [ -e "tests/$test" ] ;;
        test_*) grep -rqw "$test" tests/unit ;;
        *) continue ;; # a key in the text, such as `missing`
        esac || echo "$test is named in the hazard log and does not exist"
    done
    for page in docs/safety/*.md; do
        for id in $(grep -oE '\bH[0-9]+\b' "$page" | sort -u); do
            echo "$known" | grep -qx "$id" || echo "$page names $id, which is not in the hazard log"
        done
    done
} | verdict "a hazard log without dangling ids"
