#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Every test named in the hazard log exists.
cd "$BK_SOURCE" || exit 1
bad=0
for id in $(sed -n 's/^| H[0-9]* .*| *\([^|]*\) *|$/\1/p' docs/safety/hazards.md | tr ',' '\n' | tr -d ' `'); do
    case $id in
    *.sh) [ -e "tests/$id" ] || { echo "$id is named in the hazard log and does not exist"; bad=1; } ;;
    *) grep -rqw "$id" tests/unit || { echo "$id is named in the hazard log and does not exist"; bad=1; } ;;
    esac
done
exit $bad
