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
OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 taskset -c 0 $python bench/views_vs_numpy.py "$build"
