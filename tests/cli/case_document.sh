#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# case: make, check, change; nothing half-written; exact errors.
. "$(dirname "$0")/common_case.sh"

# a new case
ok case a.json --new --set case_id=demo --set patient.age_y=67 --set patient.sex=male --set anatomy.site=lcx_marginal
says '"schema": "branchkeep.case/1"'
says '"case_id": "demo"'
says '"revision": 1'
cmp -s answer a.json || fail "the file is not what was printed"
refused 2 "a.json exists, the name of a new file was expected with --new" case a.json --new
ok case b.json --new
grep -Eq '"case_id": "[0-9a-f]{16}"' b.json || fail "a new case has no random id"

# looking does not change it; each change counts once
cp a.json before.json
ok case a.json
cmp -s a.json before.json || fail "looking changed the file"
ok case a.json --set anatomy.segments.side.reference_mm=2.5 --set anatomy.segments.side.timi=3 --add measurement.json
says '"revision": 2'
holds '"reference_mm": 2.5'
ok case a.json --add solid.json --add measurement.json
says '"revision": 3'
[ "$(grep -c '"schema": "branchkeep.measurement/1"' a.json)" = 2 ] || fail "two measurements were expected"
ok case a.json --set 'anatomy.segments.side.mld_mm={"value": 0.87, "sd": 0.05, "origin": "measured"}'
holds '"mld_mm": {"value": 0.87, "sd": 0.05, "origin": "measured"}'
ok case a.json --set physiology.0.limb=side --set physiology.0.index=ffr --set physiology.0.value=0.78
says '"physiology": ['
ok case a.json --set anatomy.segments.side.mld_mm=null
lacks '0.87, "sd"'
ok case a.json --set patient.dialysis=false --set decision.strategy=provisional_wire

# refused, and the file stays as it was
cp a.json before.json
refused 2 'patient.agey: "agey" is unknown, the nearest known key is age_y' case a.json --set patient.agey=67
refused 3 'patient.age_y: 670 was found, 18 to 110 years was expected' case a.json --set patient.age_y=670
refused 3 'patient.age_y: "old" was found, a number was expected' case a.json --set patient.age_y=old
refused 3 'patient.creatinine_mg_dl: 85 was found, 0.2 to 20 mg/dL was expected; 85 umol/L is 0.96 mg/dL; a value in umol/L belongs in creatinine_umol_l' \
    case a.json --set patient.creatinine_mg_dl=85
refused 3 'patient: both creatinine_mg_dl and creatinine_umol_l were found, one of them was expected' \
    case a.json --set patient.creatinine_mg_dl=1 --set patient.creatinine_umol_l=88
refused 3 'anatomy.segments.side.reference_mm: 0 was found, 0.5 to 12 mm was expected' \
    case a.json --set anatomy.segments.side.reference_mm=0
refused 3 'anatomy.site: "lcx_margnal" is unknown, the nearest known word is lcx_marginal' \
    case a.json --set anatomy.site=lcx_margnal
refused 2 'revision cannot be set, it is changed by the program itself' case a.json --set revision=9
refused 2 'measurements cannot be set, it is changed by case --add' case a.json --set measurements=[]
refused 2 '"patient.age_y" was found, PATH=VALUE was expected' case a.json --set patient.age_y
refused 3 'before.json: schema "branchkeep.case/1" was found, branchkeep.measurement/1 or branchkeep.solid/1 was expected' \
    case a.json --add before.json
sed 's/a1b2c3d4e5f60718/0000000000000000/' measurement.json >other.json
refused 3 'other.json: a measurement of another patient was found, the patient of measurements.0 was expected' \
    case a.json --add other.json
sed 's/"value": 3.02/"value": 30.2/' measurement.json >huge.json
refused 3 'huge.json: measurements.2: segments.distal.reference_mm.value: 30.2 was found, 0.3 to 15 mm was expected' \
    case a.json --add huge.json
cmp -s a.json before.json || fail "a refused change touched the file"

# documents that cannot be used
refused 2 'no file was found, FILE.json was expected' case
refused 2 'option --ad is unknown, the nearest known one is --add' case a.json --ad x
echo '{"schema": "branchkeep.measurement/1"}' >m.json
refused 3 'm.json: schema "branchkeep.measurement/1" was found, branchkeep.case/1 was expected' case m.json
echo '{"anatomy": {"segments": {"side": {"refrence_mm": 2}}}}' >typo.json
refused 3 'typo.json: anatomy.segments.side.refrence_mm is unknown, the nearest known key is reference_mm' case typo.json
echo '{"anatmy": {}}' >top.json
refused 3 'top.json: anatmy is unknown, the nearest known key is anatomy' case top.json
echo '{"my_own_notes": {"a": 1}, "patient": {"age_y": 67}}' >notes.json
ok case notes.json --set patient.weight_kg=80
holds '"my_own_notes"'
for text in '' '[]' '{' 'null' '{"patient": 3}' '{"physiology": {}}' '{"measurements": {}}' '{"solid": 3}' '{"log": 1, "labs": [3]}'; do
    printf %s "$text" >bad.json
    got=0
    "$BRANCHKEEP_BIN" case bad.json >stdout 2>stderr || got=$?
    [ "$got" = 3 ] || fail "$text: code $got, 3 was expected"
    [ "$(wc -l <stderr)" = 1 ] && [ ! -s stdout ] || fail "$text: one line was expected: $(cat stderr)"
done

# a folder that cannot be written leaves nothing behind
got=0
"$BRANCHKEEP_BIN" case none/c.json --new >stdout 2>stderr || got=$?
[ "$got" = 4 ] && [ "$(wc -l <stderr)" = 1 ] && [ ! -s stdout ] || fail "no folder: code $got: $(cat stderr)"
