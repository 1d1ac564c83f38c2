#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Every evidence row that code names exists, is named through BK_EVIDENCE("id"), and every row has source and unit.
#   evidence_ids.sh   (BRANCHKEEP_BIN: the program, BK_SOURCE: the source folder)
set -eu
: "${BRANCHKEEP_BIN:?}" "${BK_SOURCE:?}"
cd "$BK_SOURCE"
known=$("$BRANCHKEEP_BIN" evidence | sed -n 's/.*"id": "\([a-z0-9_]*\)".*/\1/p')
used=$(grep -rhoE 'BK_EVIDENCE\("[^"]*"\)' src phantom tests --include='*.c' --include='*.cc' | sed 's/.*("//; s/").*//' | sort -u)
[ -n "$known" ] && [ -n "$used" ] || { echo "no evidence rows, or none used: the check itself is broken"; exit 1; }
faults=0
for id in $used; do
    echo "$known" | grep -qx "$id" || { echo "BK_EVIDENCE(\"$id\") has no row in evidence/"; faults=1; }
done
bare=$(grep -rnE 'bk_evidence_(value|low|high|sd)\([^)]*"|bk_answer_source\([^)]*, *"' src --include='*.c' | grep -v 'BK_EVIDENCE(' || true)
[ -z "$bare" ] || { echo "an id without BK_EVIDENCE(...): $bare"; faults=1; }
exit $faults
