#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Everything behind docs/methods/lumen-accuracy.md and its plots: phantoms, measurements, tables.   tables.sh BUILD
# BRANCHKEEP_TABLE_SEEDS (0-119: more than 300 limbs behind each coverage) and BRANCHKEEP_JOBS (all cores) change the run.
# Phantoms that are there already are kept; the program is run anew each time. About 20 minutes once they are there.
set -eu
cd "$(dirname "$0")/.."
build=$1
seeds=${BRANCHKEEP_TABLE_SEEDS:-0-119}
jobs=${BRANCHKEEP_JOBS:-$(nproc)}
python="/usr/bin/python3 -B"
export OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1

# make FOLDER OPTIONS...: the seeds that are missing
make_phantoms() {
    folder=$1
    shift
    mkdir -p "$folder"
    for seed in $(seq "${seeds%-*}" "${seeds#*-}"); do
        name=$folder/$(printf 'seed%04d' "$seed")
        [ -f "$name.dcm" ] && [ -f "$name.json" ] || $python validation/independent_phantom.py --seeds "$seed" --out "$folder" "$@" 2>/dev/null
    done
}
measure() {
    folder=$1
    shift
    $python validation/evaluate.py "$folder" --seeds "$seeds" --branchkeep "$build/branchkeep" --jobs "$jobs" --json "$folder/accuracy.json" "$@"
}
make_phantoms "$build/independent"
make_phantoms "$build/independent-short" --lesion-mm 3,3
measure "$build/independent" --jitter 1,2 --eight-bit --jpeg 5,10,20 >"$build/independent/accuracy.txt"
measure "$build/independent-short" >"$build/independent-short/accuracy.txt"
$python validation/classes.py "$build/independent/accuracy.json" --short "$build/independent-short/accuracy.json" --out docs/methods
sed -n '/^== bars/,$p' "$build/independent/accuracy.txt"
