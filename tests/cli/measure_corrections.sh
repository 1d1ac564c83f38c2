#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# measure with what a person says: each correction does what it says, bad ones are one line, and the result's own
# `corrections`, fed back, give the result again to the byte.
. "$(dirname "$0")/common.sh"

"$BRANCHKEEP_BIN" phantom --seed 5 --out "$work/p" >/dev/null
f=$work/p/view1.dcm
clicks=$(python3 -c "
import json
v = json.load(open('$work/p/truth.json'))['views'][0]
print(' '.join('--%s %.1f,%.1f' % (k, *v['clicks'][k]) for k in ('proximal', 'distal', 'side')))")
# the same, distal and side changed over
crossed=$(echo "$clicks" | sed 's/--distal/--x/; s/--side/--distal/; s/--x/--side/')
# shellcheck disable=SC2086
"$BRANCHKEEP_BIN" measure "$f" --frame 1 $clicks >"$work/plain.json"
# an edge 1.5 px outside the fitted left one, over the throat; way-points on the fitted axis; 4 mm around the smallest
# lumen of the limb without a lesion left out
said=$(python3 - "$work/plain.json" <<'P'
import json, sys
m = json.load(open(sys.argv[1]))["segments"]
p, least = m["side"]["profile"], m["distal"]["mld_position_mm"]
def at(mm, key):
    k = min(range(len(p["position_mm"])), key=lambda i: abs(p["position_mm"][i] - mm))
    return p[key][k] if isinstance(p[key][k], list) else [p["x_px"][k], p["y_px"][k]]
def outside(mm):
    (lx, ly), (ax, ay) = at(mm, "left_px"), at(mm, "x_px")
    d = ((lx - ax) ** 2 + (ly - ay) ** 2) ** 0.5
    return "%.2f,%.2f" % (lx + 1.5 * (lx - ax) / d, ly + 1.5 * (ly - ay) / d)
print("--via side:%.2f,%.2f --via side:%.2f,%.2f" % (*at(8, "x_px"), *at(18, "x_px")),
      "--edge side:left:" + ",".join(outside(mm) for mm in (11, 11.8, 12.6, 13.4, 14.2)),
      "--exclude distal:%.2f,%.2f --reference side:2.6,0.1 --swap distal,side" % (least - 2, least + 2))
P
)
# shellcheck disable=SC2086
"$BRANCHKEEP_BIN" measure "$f" --frame 1 $crossed $said --out "$work/said.json" --png "$work/said.png" >/dev/null
python3 - "$work/said.json" >"$work/alone.json" <<'P'
import json, sys
print(json.dumps(json.load(open(sys.argv[1]))["corrections"]))
P
for again in said.json alone.json; do
    # shellcheck disable=SC2086
    "$BRANCHKEEP_BIN" measure "$f" --frame 1 $crossed --corrections "$work/$again" >"$work/again.json"
    cmp "$work/said.json" "$work/again.json" || { echo "FAIL: $again fed back gives other bytes"; exit 1; }
done
# no corrections: an empty object, which may be fed back too
# shellcheck disable=SC2086
"$BRANCHKEEP_BIN" measure "$f" --frame 1 $clicks --corrections "$work/plain.json" | cmp - "$work/plain.json"

python3 - "$work/plain.json" "$work/said.json" <<'P'
import json, sys
plain, said = (json.load(open(p)) for p in sys.argv[1:])
a, b = plain["segments"], said["segments"]
assert plain["corrections"] == {} and set(said["corrections"]) == {"via", "edge", "exclude", "reference", "swap"}
assert said["clicks_px"]["distal"] == plain["clicks_px"]["side"], "clicks are as given"
# forced reference: the stenosis follows from it, the fitted one stays visible
s = b["side"]
assert s["reference_mm"] == {"value": 2.6, "sd": 0.1, "origin": "entered"}, s["reference_mm"]
assert abs(s["reference_fitted_mm"]["value"] - a["side"]["reference_mm"]["value"]) < 0.03
assert abs(s["stenosis_pct"]["value"] - 100 * (1 - s["mld_mm"]["value"] / 2.6)) < 0.02
assert a["side"]["reference_fitted_mm"] is None
# drawn edge: half a px an edge, diameter larger by 1.5 px there and only there
used = plain["calibration"]["mm_per_px"]
(start, end), = s["drawn_mm"]
assert 10.5 < start < 11.5 and 13.7 < end < 14.7 and a["side"]["drawn_mm"] == []
def near(seg, mm, key):
    p = seg["profile"]
    k = min(range(len(p["position_mm"])), key=lambda i: abs(p["position_mm"][i] - mm))
    return p[key][k]
for mm in (11.5, 12.5, 13.5):
    wider = (near(s, mm, "diameter_mm") - near(a["side"], mm, "diameter_mm")) / used
    assert abs(wider - 1.5) < 0.3, (mm, wider)
    assert near(s, mm, "sd_mm") > 0.5 * used
assert abs(near(s, 20, "diameter_mm") - near(a["side"], 20, "diameter_mm")) < 0.02
assert s["mld_mm"]["sd"] > 0.5 * used and s["mld_mm"]["origin"] == "measured"
# exclusion: the MLD of this limb without a lesion lay there
d = b["distal"]
(out,) = said["corrections"]["exclude"]
assert out["from_mm"] < a["distal"]["mld_position_mm"] < out["to_mm"]
assert not out["from_mm"] <= d["mld_position_mm"] <= out["to_mm"] and d["mld_mm"]["value"] > a["distal"]["mld_mm"]["value"]
assert "mld_excluded" in [w["code"] for w in said["warnings"]]
# way-points on the axis and changed clicks alter nothing else
assert abs(b["proximal"]["mld_mm"]["value"] - a["proximal"]["mld_mm"]["value"]) < 0.02
P

# a way-point off the vessel, and a path that really goes through one: the middle of an empty place
off=$(python3 -c "
import json
p = json.load(open('$work/plain.json'))['segments']['side']['profile']
k = len(p['x_px']) // 2
n = [p['left_px'][k][0] - p['x_px'][k], p['left_px'][k][1] - p['y_px'][k]]
d = (n[0] ** 2 + n[1] ** 2) ** 0.5
print('side:%.1f,%.1f' % (p['x_px'][k] + 20 * n[0] / d, p['y_px'][k] + 20 * n[1] / d))")
# shellcheck disable=SC2086
"$BRANCHKEEP_BIN" measure "$f" --frame 1 $clicks --via "$off" >"$work/off.json"
grep -q '"way_point_off_vessel"' "$work/off.json" || { echo "FAIL: a way-point off the vessel is not warned of"; exit 1; }

bad() { # CODE TEXT ARGUMENT...
    code=$1 text=$2
    shift 2
    # shellcheck disable=SC2086
    refused "$code" "$text" measure "$f" --frame 1 $clicks "$@"
}
bad 2 "proximal, distal or side" --via middle:3,4
bad 2 "inside 0..511,0..511" --via side:512,4
bad 2 "at least two points" --edge side:left:10,10
bad 2 "left|right" --edge side:upper:10,10,20,20
bad 2 "from the axis of the side limb" --edge side:left:10,10,20,20
bad 2 "from below to" --exclude side:5,3
bad 2 "are left" --exclude side:0,100
bad 2 "0.3 to 15" --reference side:-1
bad 2 "two were found for the side limb" --reference side:2 --reference side:2.1
bad 2 "two limbs" --swap side,side
bad 2 "LIMB,LIMB" --swap side
bad 4 "cannot be read" --corrections "$work/none.json"

data() { # TEXT JSON
    echo "$2" >"$work/bad.json"
    bad 3 "$1" --corrections "$work/bad.json"
}
data 'nearest known' '{"vias": []}'
data 'nearest known' '{"via": [{"limb": "side", "x_pix": 3, "y_px": 4}]}'
data 'nearest known word is side' '{"via": [{"limb": "sid", "x_px": 3, "y_px": 4}]}'
data 'no limb' '{"via": [{"x_px": 3, "y_px": 4}]}'
data 'inside' '{"via": [{"limb": "side", "x_px": 3}]}'
data 'from below to' '{"exclude": [{"limb": "side", "from_mm": 5, "to_mm": 3}]}'
data 'from below to' '{"exclude": [{"limb": "side", "from_mm": 5}]}'
data 'two or more' '{"edge": [{"limb": "side", "side": "left", "x_px": [3], "y_px": [4]}]}'
data 'left or right' '{"edge": [{"limb": "side", "x_px": [3, 4], "y_px": [4, 5]}]}'
data 'from the axis' '{"edge": [{"limb": "side", "side": "left", "x_px": [3, 9], "y_px": [4, 9]}]}'
data 'no diameter' '{"reference": [{"limb": "side"}]}'
data 'an object' '[]'
data 'line' '{"via": '

# millimetres need a scale
"$BRANCHKEEP_BIN" phantom --seed 5 --missing sid --out "$work/q" >/dev/null
# shellcheck disable=SC2086
refused 2 "no scale" measure "$work/q/view1.dcm" --frame 1 $clicks --exclude side:3,5
