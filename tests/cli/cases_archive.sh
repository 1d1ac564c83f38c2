#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Spoilt and hostile archives (tests/support/bad_archives.py): each is refused with code 3 and one line, and nothing of it is
# kept. So is a good archive of which any byte of the first headers was changed, unless that byte means nothing.
. "$(dirname "$0")/common.sh"
$python -c 'import tarfile, sqlite3' 2>/dev/null || skip "python3 is not installed"
cd "$work"
fail() {
    echo "FAIL: $*"
    exit 1
}
"$BRANCHKEEP_BIN" phantom --seed 5 --frames 1 --out phantom >/dev/null
cine=$(sha256sum phantom/view1.dcm | cut -c1-64)
sed "s/\"file_sha256\": \"0*\"/\"file_sha256\": \"$cine\"/" "$BK_SOURCE/tests/data/measurement.json" >m.json
"$BRANCHKEEP_BIN" case a.json --new --set case_id=demo --add m.json >/dev/null
"$BRANCHKEEP_BIN" cases import a.json --data from >/dev/null
"$BRANCHKEEP_BIN" case a.json --set patient.age_y=67 >/dev/null
"$BRANCHKEEP_BIN" cases import a.json --based-on 1 --data from >/dev/null
"$BRANCHKEEP_BIN" cases import phantom/view1.dcm --data from >/dev/null
"$BRANCHKEEP_BIN" cases export demo case.tar --data from >/dev/null
"$BRANCHKEEP_BIN" cases backup backup.tar --data from >/dev/null
mkdir bad
PYTHONDONTWRITEBYTECODE=1 $python "$BK_SOURCE/tests/support/bad_archives.py" case.tar backup.tar bad

untouched() { # WHAT
    [ -z "$(find to -type f ! -name 'cases.sqlite*')" ] || fail "$1: something was left: $(find to -type f)"
    [ -z "$(find . -newer mark -name 'up*')" ] || fail "$1: a file outside was written"
}
for good in bad/good.tar bad/backup_good_way.tar; do
    "$BRANCHKEEP_BIN" cases import "$good" --data "$(basename "$good")".d >/dev/null || fail "$good should be good"
    rm "$good"
done
"$BRANCHKEEP_BIN" cases list --data to >/dev/null
touch mark
n=0
for file in bad/*.tar; do
    got=0
    "$BRANCHKEEP_BIN" cases import "$file" --data to >stdout 2>stderr || got=$?
    [ "$got" = 3 ] && [ "$(wc -l <stderr)" = 1 ] && grep -q '^branchkeep: .*not JSON\|^branchkeep: .* was found\|^branchkeep: .*has another\|^branchkeep: .*were found\|^branchkeep: .* expected' stderr && [ ! -s stdout ] ||
        fail "$file: code $got, 3 was expected: $(cat stderr stdout)"
    untouched "$file"
    echo "$(basename "$file" .tar): $(sed "s|^branchkeep: bad/[a-z_0-9]*.tar: ||" stderr)" >>said
    n=$((n + 1))
done
no_case() { # WHAT
    "$BRANCHKEEP_BIN" cases list --all --data to | grep -q '"cases": \[\]' || fail "$1: a case was kept"
}
no_case "the bad archives"
[ "$n" -ge 80 ] || fail "only $n archives were made"

# any byte of the first 1,200 (a header and the manifest): no crash, and either refused as a whole or wholly good
for at in $(seq 0 41 1200); do
    cp case.tar one.tar
    printf '\377' | dd of=one.tar bs=1 seek="$at" conv=notrunc 2>/dev/null
    got=0
    rm -rf to
    "$BRANCHKEEP_BIN" cases import one.tar --data to >stdout 2>stderr || got=$?
    case $got in
    3) untouched "byte $at" && no_case "byte $at" ;;
    0) "$BRANCHKEEP_BIN" cases verify --data to >/dev/null || fail "byte $at: imported, not sound" ;;
    *) fail "byte $at: code $got: $(cat stderr)" ;;
    esac
done
[ -z "${BK_SHOW:-}" ] || cat said
echo "$n archives refused"
