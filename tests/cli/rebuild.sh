#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# rebuild: digital angiograms seen from two sides come out with their true lengths and angles in space; views that do not
# belong together are refused or named; nothing half-written. Bars: issue "space" (length SD 0.4 mm per 30 mm, angle SD 2.5
# degrees, MLD SD 0.08); here 6 pairs, so each pair within 3 SD, and lists and signs by the contract.
. "$(dirname "$0")/common.sh"
need_python
for seed in 2 3 8 14 18 21; do
    "$BRANCHKEEP_BIN" phantom --seed $seed --two-views --shift 4 --out "$work/p$seed" >/dev/null
    for view in 1 2; do
        clicks=$($python -c "
import json, sys
c = json.load(open('$work/p$seed/truth.json'))['views'][$view - 1]['clicks']
print(' '.join('--%s %g,%g' % (k, *c[k]) for k in ('proximal', 'distal', 'side')))")
        # shellcheck disable=SC2086 # a list of options
        "$BRANCHKEEP_BIN" measure "$work/p$seed/view$view.dcm" --frame 1 $clicks --out "$work/p$seed/m$view.json" >/dev/null
    done
    "$BRANCHKEEP_BIN" rebuild "$work/p$seed/m1.json" "$work/p$seed/m2.json" --out "$work/p$seed/s.json" >"$work/p$seed/stdout"
    cmp "$work/p$seed/s.json" "$work/p$seed/stdout"
done
$python - "$work" <<'P'
import json, sys
import numpy as np
work = sys.argv[1]
for seed in (2, 3, 8, 14, 18, 21):
    s = json.load(open("%s/p%d/s.json" % (work, seed)))
    t = json.load(open("%s/p%d/truth.json" % (work, seed)))
    assert s["schema"] == "branchkeep.solid/1" and s["caution"]
    assert [w["code"] for w in s["warnings"]] == ["phase_unknown"], (seed, s["warnings"])
    assert 0 < s["fit"]["rms_px"] < 0.5 and abs(s["fit"]["shift_mm"]) < 4.5
    a, b = (np.array([np.sin(p) * np.cos(q), -np.cos(p) * np.cos(q), np.sin(q)]) for p, q in (
        np.radians([v["geometry"]["primary_deg"], v["geometry"]["secondary_deg"]]) for v in t["views"]))
    apart = np.degrees(np.arccos(a @ b))
    assert abs(s["fit"]["view_separation_deg"] - min(apart, 180 - apart)) < 0.01
    for name, angle in t["space"]["angles"].items():
        got = s["angles"][name]
        assert abs(got["value"] - angle) < 7.5 and got["origin"] == "measured" and got["sd"] > 0, (seed, name, got, angle)
    for name, limb in s["segments"].items():
        p = np.array(limb["points_mm"])
        n = len(p)
        assert all(len(limb[k]) == n for k in ("diameter_mm", "minor_mm", "major_mm", "position_mm")), (seed, name)
        arc = np.linalg.norm(np.diff(p, axis=0), axis=1).sum()
        assert abs(arc - limb["length_mm"]["value"]) < 0.02 * arc, (seed, name, arc, limb["length_mm"])
        true = t["space"]["segments"][name]["click_space_mm"]
        assert abs(limb["length_mm"]["value"] - true) < 2.5, (seed, name, limb["length_mm"], true)
        view = t["views"][0]["segments"][name]
        assert abs(limb["mld_mm"]["value"] - view["area_mld_mm"]) < 0.25, (seed, name, limb["mld_mm"], view["area_mld_mm"])
        for k in (1, 2):
            seen = t["views"][k - 1]["segments"][name]["foreshortening_pct"]
            assert abs(s["foreshortening_pct"]["view%d" % k][name] - seen) < 3, (seed, name, k, seen)
P
"$BRANCHKEEP_BIN" rebuild "$work/p2/m1.json" "$work/p2/m2.json" --svg "$work/s.svg" | cmp - "$work/p2/s.json"
grep -q "<svg" "$work/s.svg"

# another reading of the same views is named, another patient refused
$python - "$work" <<'P'
import json, sys
work = sys.argv[1]
def write(name, seed, view, change):
    m = json.load(open("%s/p%d/m%d.json" % (work, seed, view)))
    change(m)
    json.dump(m, open("%s/%s.json" % (work, name), "w"))
def put(*path):
    def change(m):
        at = m
        for key in path[:-2]:
            at = at[key]
        at[path[-2]] = path[-1]
    return change
def flip(m):
    m["geometry"]["primary_deg"] *= -1
def swap(m):
    s = m["segments"]
    s["distal"], s["side"] = s["side"], s["distal"]
write("flipped", 3, 2, flip)
write("swapped", 3, 2, swap)
write("stented", 3, 2, put("stage", "stented"))
write("phase1", 3, 1, put("source", "phase_pct", 75))
write("phase2", 3, 2, put("source", "phase_pct", 35))
write("other", 3, 2, put("source", "patient_hash", "another"))
write("bare", 3, 2, put("geometry", "sid_mm", None))
write("short", 3, 2, put("segments", "side", "profile", "sd_mm", [0.1]))
P
named() { # CODE FILE FILE
    "$BRANCHKEEP_BIN" rebuild "$2" "$3" >"$work/named.json"
    grep -q "\"code\": \"$1\"" "$work/named.json" || {
        echo "FAIL: $2 $3: no warning $1"
        exit 1
    }
}
named primary_sign "$work/p3/m1.json" "$work/flipped.json"
named limbs_swapped "$work/p3/m1.json" "$work/swapped.json"
named stage_differs "$work/p3/m1.json" "$work/stented.json"
named phase_differs "$work/phase1.json" "$work/phase2.json"
refused 3 "different patients" rebuild "$work/p3/m1.json" "$work/other.json" --out "$work/none.json"
refused 3 "measurement 2: the C-arm" rebuild "$work/p3/m1.json" "$work/bare.json"
refused 3 "equally many" rebuild "$work/p3/m1.json" "$work/short.json"
refused 3 "schema" rebuild "$work/p3/m1.json" "$work/p3/s.json"
refused 1 "0.0 degrees apart" rebuild "$work/p3/m1.json" "$work/p3/m1.json"
refused 2 "two or more" rebuild "$work/p3/m1.json"
refused 4 "none" rebuild "$work/p3/m1.json" "$work/none.json"
refused 4 "" rebuild "$work/p3/m1.json" "$work/p3/m2.json" --out "$work/nowhere/s.json"
[ ! -e "$work/none.json" ]
