#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# measure --repeat where a vessel of the same contrast comes over the side branch during the run: each value is near the
# truth of the phantom, or is not given and the row says why; the main vessel is still measured.
. "$(dirname "$0")/common.sh"
need_python
$python -c 'import scipy' 2>/dev/null || skip "python3 with scipy is not installed"
cat >"$work/clicks.py" <<'P'
# clicks.py TRUTH FRAME: options of measure for that frame of a moving cine
import json, sys
v = json.load(open(sys.argv[1]))["views"][0]
k = int(sys.argv[2])
dx, dy = v["frames"][k - 1]["moved_px"]
print("--frame", k, *("--%s %.2f,%.2f" % (n, x + dx, y + dy) for n, (x, y) in v["clicks"].items()))
P
for seed in 1 5; do
    own=18
    [ $seed = 1 ] || own=17
    "$BRANCHKEEP_BIN" phantom --seed $seed --frames 30 --out "$work/p$seed" >/dev/null
    for mode in along across; do
        $python "$BK_SOURCE/tests/support/sweep_vessel.py" "$work/p$seed/view1.dcm" "$work/p$seed/truth.json" "$work/x.dcm" $own $mode
        # shellcheck disable=SC2046
        "$BRANCHKEEP_BIN" measure "$work/x.dcm" $($python "$work/clicks.py" "$work/p$seed/truth.json" $own) --repeat 9 >"$work/r$seed-$mode.json"
    done
done
$python - "$work" <<'P'
import glob, json, math, sys
hidden, given, worst, aside = 0, 0, 0, 0
for path in sorted(glob.glob(sys.argv[1] + "/r*.json")):
    seed, mode = path[len(sys.argv[1]) + 2 : -5].split("-")
    m = json.load(open(path))
    view = json.load(open("%s/p%s/truth.json" % (sys.argv[1], seed)))["views"][0]
    own, mm = m["source"]["frame"], m["calibration"]["mm_per_px"]
    assert len(m["repeats"]) == 9
    for r in m["repeats"]:
        after = r["frame"] - own
        assert r["status"] == "ok", (path, r)
        for limb, s in r["segments"].items():
            where = (path, r["frame"], limb, s)
            truth = view["segments"][limb]
            # before the vessel comes, and for the main vessel all the time, nothing may be missing
            if s["mld_mm"] is None:
                assert limb == "side" and after > 0 and s["reason"].startswith("cannot say"), where
                hidden += 1
                continue
            assert s["reason"] is None, where
            given += 1
            scale = view["mm_per_px"] / mm  # the file's own isocentre scale was used
            off = abs(s["mld_mm"] * scale - truth["mld_mm"])
            worst = max(worst, off)
            assert off < 0.25, where
            if limb == "side" and after <= 1:  # the course: aside from the true axis; its points may slide along it
                p = truth["profile"]
                dx, dy = view["frames"][r["frame"] - 1]["moved_px"]
                for x, y in list(zip(s["course_x_px"], s["course_y_px"]))[1:]:
                    d = min(math.hypot(x - a - dx, y - b - dy) for a, b in zip(p["x_px"], p["y_px"])) * mm
                    aside = max(aside, d)
                    assert d < 0.5, (where, d)
    side = {r["frame"] - own: r["segments"]["side"]["mld_mm"] for r in m["repeats"]}
    if mode == "along":  # from 2.2 mm on the two lumens lie on one another
        assert side[3] is None and side[4] is None, (path, side)
print("%d values within %.2f mm of the truth, %d limbs that cannot be told, course up to %.2f mm aside" % (given, worst, hidden, aside))
assert given > 80 and hidden >= 5
P
echo "ok: a vessel that comes over the side branch"
