#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# make bench: every comparison of this folder, each against its reference in the same run.   run.sh BUILD
set -eu
cd "$(dirname "$0")/.."
build=$1
python=/usr/bin/python3
folder=$build/bench
mkdir -p "$folder"
[ -f "$folder/seed0042.dcm" ] || $python validation/independent_phantom.py --seeds 42 --wire-share 0 --out "$folder"
[ -f "$folder/large/seed0042.dcm" ] || $python validation/independent_phantom.py --seeds 42 --wire-share 0 --size 1024 --out "$folder/large"
# one core for both sides
OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 taskset -c 0 $python bench/measure_vs_skimage.py "$build" \
    "$folder/seed0042" "$folder/large/seed0042"
# rebuild: two views of a phantom (docs/methods/space.md), bar 50 ms
pair=$folder/pair
if [ ! -f "$pair/m2.json" ]; then
    "$build/branchkeep" phantom --seed 3 --two-views --shift 4 --out "$pair" >/dev/null
    for view in 1 2; do
        clicks=$($python -c "
import json
c = json.load(open('$pair/truth.json'))['views'][$view - 1]['clicks']
print(' '.join('--%s %g,%g' % (k, *c[k]) for k in ('proximal', 'distal', 'side')))")
        # shellcheck disable=SC2086 # a list of options
        "$build/branchkeep" measure "$pair/view$view.dcm" --frame 1 $clicks --out "$pair/m$view.json" >/dev/null
    done
fi
echo
echo "## Two views to space"
taskset -c 0 "$build/bench/bench_rebuild" "$pair/m1.json" "$pair/m2.json" |
    $python -c 'import json, sys; ms = json.load(sys.stdin)["rebuild_ms"]; print("  %s rebuild, ms: %.1f (wanted at most 50)" % ("met" if ms <= 50 else "MISSED", ms))'
# a plan on the demo: devices with stock list and guide, and steps; bar 20 ms
[ -f "$folder/demo/demo-lcx-marginal.json" ] || { mkdir -p "$folder/demo" && "$build/branchkeep" demo "$folder/demo" >/dev/null; }
echo
echo "## Devices and steps"
taskset -c 0 "$build/bench/bench_plan" "$folder/demo/demo-lcx-marginal.json" |
    $python -c 'import json, sys; ms = json.load(sys.stdin)["plan_ms"]; print("  %s plan, ms: %.2f (wanted at most 20, ratio %.2f)" % ("met" if ms <= 20 else "MISSED", ms, ms / 20))'
OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 taskset -c 0 $python bench/views_vs_numpy.py "$build"
echo
echo "## The log of a procedure"
taskset -c 0 "$build/bench/bench_log" |
    $python -c 'import json, sys; r = json.load(sys.stdin); print("  %s replay of %d events, ms: %.1f (wanted at most 50), %.2f times the parsing of the same JSON" % ("met" if r["replay_ms"] <= 50 else "MISSED", r["events"], r["replay_ms"], r["replay_ms"] / r["parse_ms"]))'
echo
echo "## Rules of protection, 10,000 draws"
taskset -c 0 "$build/bench/bench_protect" |
    $python -c 'import json, sys; a = json.load(sys.stdin); print("  %s stability, ms: %.1f (wanted at most 300); %.1f times its normal numbers alone" % ("met" if a["stability_ms"] <= 300 else "MISSED", a["stability_ms"], a["ratio"]))'
