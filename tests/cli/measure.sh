#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# measure on the command line: the contract's keys, one clear line for bad input, nothing half-written.
. "$(dirname "$0")/common.sh"
set +e
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
fails=0
say() { echo "$1"; fails=$((fails + 1)); }

"$BRANCHKEEP_BIN" phantom --seed 5 --out "$dir/p" >/dev/null || exit 1
clicks=$(python3 -c "
import json
v = json.load(open('$dir/p/truth.json'))['views'][0]
print(' '.join('--%s %.1f,%.1f' % (k, *v['clicks'][k]) for k in ('proximal', 'distal', 'side')))")

# shellcheck disable=SC2086
"$BRANCHKEEP_BIN" measure "$dir/p/view1.dcm" --frame 1 $clicks --out "$dir/m.json" --png "$dir/o.png" >"$dir/out.json" || say "measure failed"
cmp -s "$dir/m.json" "$dir/out.json" || say "--out and standard output differ"
[ "$(head -c 4 "$dir/o.png" | tail -c 3)" = PNG ] || say "the overlay is no PNG"
# shellcheck disable=SC2086
"$BRANCHKEEP_BIN" measure "$dir/p/view1.dcm" --frame 1 $clicks >"$dir/again.json"
cmp -s "$dir/again.json" "$dir/out.json" || say "the same call gave other bytes"

python3 - "$dir/m.json" <<'P' || say "keys of the contract are missing"
import json, sys
m = json.load(open(sys.argv[1]))
top = """schema engine source stage acquired_at nitrate wire_in_limb geometry calibration branch_point_px carina_px segments core
angles medina medina_alternatives medina_threshold_pct fit warnings""".split()
seg = """reference_mm reference_by_law_mm mld_mm stenosis_pct area_stenosis_pct lesion_length_mm length_mm ostial_mm
mld_position_mm occluded profile""".split()
prof = "position_mm x_px y_px diameter_mm sd_mm reference_mm left_px right_px".split()
bad = [k for k in top if k not in m]
bad += [k for k in "file_sha256 sop_uid_hash patient_hash phase_pct frame rows columns".split() if k not in m["source"]]
bad += [k for k in "mm_per_px sd_pct origin routes agreement".split() if k not in m["calibration"]]
for limb in ("proximal", "distal", "side"):
    s = m["segments"][limb]
    bad += [limb + "." + k for k in seg if k not in s]
    n = len(s["profile"]["position_mm"])
    bad += [limb + ".profile." + k for k in prof if len(s["profile"].get(k, [])) != n]
    for k in ("reference_mm", "mld_mm", "stenosis_pct"):
        bad += [] if set(s[k]) == {"value", "sd", "origin"} else [limb + "." + k]
    assert s["length_mm"]["origin"] == "projected"
assert m["angles"]["distal_side_deg"]["origin"] == "projected" and m["schema"] == "branchkeep.measurement/1"
assert m["calibration"]["origin"] == "isocentre" and m["calibration"]["agreement"] == "single"
print("missing:", bad) if bad else None
sys.exit(bool(bad))
P

# expect CODE WORD ARGS...: exit code, one line on stderr that holds WORD, nothing on stdout
expect() {
    code=$1 word=$2
    shift 2
    "$BRANCHKEEP_BIN" "$@" >"$dir/o" 2>"$dir/e"
    got=$?
    [ "$got" -eq "$code" ] || say "exit $got instead of $code: $*"
    [ "$(wc -l <"$dir/e")" -eq 1 ] && grep -q "^branchkeep: " "$dir/e" || say "not one line of error: $*: $(cat "$dir/e")"
    grep -q -- "$word" "$dir/e" || say "\"$word\" is not in: $(cat "$dir/e")"
    [ ! -s "$dir/o" ] || say "an answer beside an error: $*"
}
f=$dir/p/view1.dcm
expect 2 "frame" measure "$f" --proximal 1,1 --distal 2,2 --side 3,3
expect 2 "side" measure "$f" --frame 1 --proximal 100,100 --distal 200,200
expect 2 "two\|2 numbers" measure "$f" --frame 1 --proximal 100 --distal 200,200 --side 3,3
expect 2 "inside" measure "$f" --frame 1 --proximal -5,100 --distal 200,200 --side 30,30
expect 2 "nearest known one is --proximal" measure "$f" --frame 1 --proximl 5,100
# shellcheck disable=SC2086
expect 2 "1 to 1 were expected" measure "$f" --frame 9 $clicks
# shellcheck disable=SC2086
expect 2 "above 0" measure "$f" --frame 1 $clicks --mm-per-px -1
# shellcheck disable=SC2086
expect 2 "French" measure "$f" --frame 1 $clicks --catheter 10,10,50,50,60
# shellcheck disable=SC2086
expect 4 "written" measure "$f" --frame 1 $clicks --out "$dir/none/m.json"
# shellcheck disable=SC2086
expect 4 "read" measure "$dir/none.dcm" --frame 1 $clicks
echo nothing >"$dir/x.dcm"
# shellcheck disable=SC2086
expect 3 "DICOM" measure "$dir/x.dcm" --frame 1 $clicks
# three clicks along one empty diagonal: no lumen joins them
expect 1 "" measure "$f" --frame 1 --proximal 20,490 --distal 60,500 --side 40,440

# a scale that disagrees: sizes carry it, percent stenosis stays
# shellcheck disable=SC2086
"$BRANCHKEEP_BIN" measure "$f" --frame 1 $clicks --mm-per-px 0.4 >"$dir/d.json" || say "measure with an entered scale failed"
python3 - "$dir/m.json" "$dir/d.json" <<'P' || say "a disagreeing scale is not carried"
import json, sys
a, b = (json.load(open(p)) for p in sys.argv[1:])
assert b["calibration"]["agreement"] == "disagree" and b["calibration"]["origin"] == "entered", b["calibration"]
assert b["calibration"]["given"] == {"mm_per_px": 0.4, "catheter": None, "marker": None}, b["calibration"]["given"]
assert set(a["calibration"]["given"].values()) == {None}, a["calibration"]["given"]
x, y = a["segments"]["distal"], b["segments"]["distal"]
assert y["reference_mm"]["sd"] > 0.2 * y["reference_mm"]["value"], y["reference_mm"]
assert abs(x["stenosis_pct"]["value"] - y["stenosis_pct"]["value"]) < 6 and y["stenosis_pct"]["sd"] < 10
P
# no scale at all: sizes are withheld, percent and Medina stand
"$BRANCHKEEP_BIN" phantom --seed 5 --missing sid --out "$dir/q" >/dev/null
# shellcheck disable=SC2086
"$BRANCHKEEP_BIN" measure "$dir/q/view1.dcm" --frame 1 $clicks >"$dir/n.json" || say "measure without a scale failed"
python3 - "$dir/n.json" <<'P' || say "sizes were given without a scale"
import json, sys
m = json.load(open(sys.argv[1]))
assert m["calibration"]["mm_per_px"] is None and m["segments"]["side"]["mld_mm"] is None
assert m["segments"]["side"]["stenosis_pct"]["value"] is not None and m["medina"]
assert "no_scale" in [w["code"] for w in m["warnings"]]
P
[ "$fails" -eq 0 ]
