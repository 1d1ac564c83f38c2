#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Every row that code names by BK_EVIDENCE("id") stands in the tables, every cell of which has a standing.
cd "$BK_SOURCE" || exit 1
bad=0
for id in $(grep -rhoE 'BK_EVIDENCE\("[a-z0-9_]+"\)' src | sed 's/.*"\(.*\)".*/\1/' | sort -u); do
    grep -qE "^$id," evidence/*.csv || { echo "evidence row $id is named in code and stands in no table"; bad=1; }
done
exit $bad
