#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# log add, next, undo, show: what they answer, what they refuse, that a refused event changes nothing, that two writers lose
# nothing, and that a writer killed at any moment leaves every acknowledged event.
. "$(dirname "$0")/common_case.sh"
ok case c.json --new --set decision.strategy=provisional_wire --set procedure.contrast_rule=egfr_1_78 --set patient.age_y=60 \
    --set patient.sex=male --set patient.weight_kg=80 --set patient.creatinine_mg_dl=1 --set procedure.act_interval_min=30
ok log c.json show
says '"schema": "branchkeep.log/1"'
says '"main_inflations_to_come": "the main stent and its POT"'
ok log c.json add wire_in limb=side
ok log c.json next wire_out limb=side
holds '"id": "do_not_pull"'
ok log c.json show
holds '"free": 1'
ok log c.json add stent limb=main diameter_mm=3 length_mm=24 atm=12
says '"quiet": "inflation"'
holds '"id": "do_not_pull"'
holds '"free": 0, "jailed": 1'
ok log c.json undo 2
holds '"free": 1, "jailed": 0'
holds '"undone": true'
ok log c.json undo 3
holds '"free": 0, "jailed": 1'
ok log c.json add contrast ml=130
holds '"waiting": ["contrast_75"]'
ok log c.json add deflated s=15
ok log c.json add silence alert=contrast_75 'text=the rest is for one run'
holds '"reason": "the rest is for one run"'
ok log c.json add act s=255 at=2026-11-01T10:00:00Z
ok log c.json add decision about=protect 'text=wire it'
lacks '"comparison"'
grep -q '"comparison"' c.json || fail "the decision did not keep the answer it was made on"
before=$(sha256sum <c.json)
refused 3 'event "stnt" is unknown, the nearest known one is "stent"' log c.json add stnt limb=main
refused 3 'stent: no diameter_mm was found, it is needed' log c.json add stent limb=main
refused 3 'pot: the key ml was found, diameter_mm length_mm atm s was expected' log c.json add pot diameter_mm=3 ml=4
refused 3 'diameter_mm: 33 was found, 0.5 to 8 mm was expected' log c.json add pot diameter_mm=33
refused 3 'undo: entry 99 was found, 1 to 9 was expected' log c.json undo 99
refused 3 'at: "noon" was found, a time such as 2026-11-27T14:05:00Z was expected' log c.json add pot diameter_mm=3 at=noon
refused 2 '"3" was found, KEY=VALUE was expected' log c.json add pot 3
refused 2 'undo takes the number of one entry' log c.json undo 1 2
refused 2 '"shw" was found, add, next, undo or show was expected' log c.json shw
refused 4 'none.json cannot be read: No such file or directory' log none.json add main_done
[ "$before" = "$(sha256sum <c.json)" ] || fail "a refused event changed the case"
ok fields log
holds '"name": "kissing"'

# an entry that another program wrote, and that does not read, is listed and not counted
python3 - <<'P' || fail "python"
import json
c = json.load(open("c.json"))
c["log"] = [{"event": "stent", "limb": "main"}, {"event": "wire_in", "limb": "side"}, 7]
json.dump(c, open("odd.json", "w"))
P
ok log odd.json show
holds '"unreadable": "stent: no diameter_mm was found, it is needed"'
says '"main_stents": 0'
holds '"free": 1'

# two at once: both events of every pair are there
ok case w.json --new
for i in $(seq 15); do
    "$BRANCHKEEP_BIN" log w.json add note text="a$i" >/dev/null &
    "$BRANCHKEEP_BIN" log w.json add note text="b$i" >/dev/null &
    wait
done
[ "$(grep -c '"event": "note"\|"event":"note"' w.json)" = 30 ] || fail "two writers lost an event: $(grep -c note w.json) of 30"

# killed: what was acknowledged is there
ok case k.json --new
n=0
for i in $(seq "${BK_KILLS:-40}"); do
    (for j in 1 2 3 4 5 6 7 8; do
        "$BRANCHKEEP_BIN" log k.json add note text="k$i-$j" >/dev/null && echo "k$i-$j" >>said
    done) &
    loop=$!
    sleep "0.0$((i * 7 % 9 + 1))"
    pkill -9 -P $loop 2>/dev/null || true
    kill -9 $loop 2>/dev/null || true
    wait $loop 2>/dev/null || true
    ok log k.json show
done
while read -r word; do
    grep -q "\"$word\"" k.json || fail "$word was acknowledged and is not there"
    n=$((n + 1))
done <said
[ $n -ge 40 ] || fail "only $n events were acknowledged: the trial proves nothing"
echo "$n acknowledged events are there after ${BK_KILLS:-40} kills"
