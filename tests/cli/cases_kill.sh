#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# A program that saves revisions and cines without end is killed (SIGKILL) at random moments: what it has acknowledged is
# there afterwards, and the store is sound. BK_KILLS: how many times (50). Two such programs save at once in the second half.
. "$(dirname "$0")/common.sh"
helper=$BK_BUILD/tests/save_forever
[ -x "$helper" ] || skip "save_forever was not built"
kills=${BK_KILLS:-50}
data=$work/data
acknowledged=$work/acknowledged
: >"$acknowledged"
"$BRANCHKEEP_BIN" phantom --seed 5 --frames 1 --out "$work/phantom" >/dev/null
"$BRANCHKEEP_BIN" case "$work/case.json" --new --set case_id=killed --add "$BK_SOURCE/tests/data/measurement.json" >/dev/null

fail() {
    echo "FAIL: $*"
    exit 1
}
start() { # NUMBER
    "$helper" save "$data" "$work/case.json" "$work/phantom/view1.dcm" "$acknowledged" 2>"$work/errors$1" &
}
seed=1
cut=0
for trial in $(seq "$kills"); do
    start 1
    first=$!
    second=
    if [ $((trial * 2)) -gt "$kills" ]; then
        start 2
        second=$!
    fi
    seed=$(((seed * 1103515245 + 12345) % 2147483648)) # repeatable, not clever
    sleep "0.$(printf %03d $((60 + seed / 65536 % 400)))"
    # shellcheck disable=SC2086 # none or one
    kill -9 $first $second 2>/dev/null || fail "trial $trial: a saver ended by itself: $(cat "$work"/errors*)"
    wait $first $second 2>/dev/null || true
    [ ! -s "$work/errors1" ] && { [ -z "$second" ] || [ ! -s "$work/errors2" ]; } ||
        fail "trial $trial: $(cat "$work"/errors*)"
    cut=$((cut + $(find "$data" -name '.new-*' 2>/dev/null | wc -l)))
    "$BRANCHKEEP_BIN" cases verify --data "$data" >"$work/verify" || fail "trial $trial: $(cat "$work/verify")"
done
"$helper" check "$data" "$acknowledged" || fail "something acknowledged is not there"
[ "$(grep -c ^case "$acknowledged")" -ge "$kills" ] || fail "hardly anything was saved: the trials prove nothing"
[ "$(grep -c ^cine "$acknowledged")" -ge 10 ] || fail "hardly any cine was put: the trials prove nothing"
[ "$(find "$data" -name '.new-*' | wc -l)" = 0 ] || fail "a half-made copy was left behind"
sed -n 's/^ *//; /"revisions"\|"cines"\|"unlisted/p' "$work/verify" | tr '\n' ' '
echo "after $kills kills; $cut copies were cut in the middle"
