#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Killed at any byte of the writing, before and behind fsync and rename: the file holds the log of before or of after,
# whole, and every entry that was acknowledged (exit 0) is there. BK_KILL_STEP: every how many bytes (13).
. "$(dirname "$0")/common.sh"
killer=$BK_BUILD/tests/kill_at.so
[ -e "$killer" ] || skip "kill_at was not built"
case=$work/case.json
fail() {
    echo "FAIL: $*"
    exit 1
}
"$BRANCHKEEP_BIN" case "$case" --new --set case_id=killed >/dev/null
entries() {
    "$BRANCHKEEP_BIN" case "$case" >"$work/doc" || return 1 # it reads
    grep -c '"event":' "$work/doc" || true
}
acknowledged=0
trials=0
try() { # VARIABLE=VALUE ENTRIES  how many it may add when it is killed
    before=$(entries)
    trials=$((trials + 1))
    got=0
    (env "$1" LD_PRELOAD="$killer" "$BRANCHKEEP_BIN" log "$case" add contrast ml=1 >/dev/null 2>&1) 2>/dev/null || got=$?
    after=$(entries) || fail "$1: the file cannot be read"
    [ -n "$after" ] || fail "$1: the file cannot be read"
    if [ $got = 0 ]; then
        acknowledged=$((acknowledged + 1))
        [ "$after" = $((before + 1)) ] || fail "$1: an acknowledged entry is not there"
    else
        [ $got = 137 ] || fail "$1: ended with $got, killed was expected"
        [ "$after" = $((before + $2)) ] || fail "$1: $after entries, $((before + $2)) were expected"
    fi
}
for i in 1 2 3; do "$BRANCHKEEP_BIN" log "$case" add act s=250 >/dev/null; done
size=$(wc -c <"$case")
byte=0
while [ "$byte" -le "$size" ]; do
    try BK_KILL_BYTES=$byte 0
    byte=$((byte + ${BK_KILL_STEP:-13}))
done
try BK_KILL_CALL=fsync 0
try BK_KILL_CALL=rename 0
try BK_KILL_CALL=renamed 1
try BK_KILL_CALL=never 1
[ $acknowledged = 1 ] || fail "$acknowledged were acknowledged, 1 was expected: the trials prove nothing"
"$BRANCHKEEP_BIN" log "$case" add act s=251 >/dev/null || fail "the next entry is refused"
[ "$(entries)" = 6 ] || fail "$(entries) entries, 6 were expected"
# a running writer, killed at random moments
count=$work/count
: >"$count"
for trial in $(seq 20); do
    (while "$BRANCHKEEP_BIN" log "$case" add contrast ml=1 >/dev/null 2>&1; do echo x >>"$count"; done) &
    writer=$!
    sleep "0.$(printf %03d $((40 + trial * 37 % 160)))"
    child=$(pgrep -P $writer 2>/dev/null | head -n 1) || true
    kill -9 $writer ${child:-} 2>/dev/null || true
    wait $writer 2>/dev/null || true
    sleep 0.05
    [ "$(entries)" -ge $((6 + $(wc -l <"$count"))) ] || fail "an acknowledged entry was lost"
done
[ "$(wc -l <"$count")" -ge 20 ] || fail "hardly anything was logged: the trials prove nothing"
echo "$trials kills at chosen places, 20 at random; $(wc -l <"$count") acknowledged, $(entries) there"
