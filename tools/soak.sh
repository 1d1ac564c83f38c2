#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# The long run: accuracy on phantoms of the second generator, clicks jittered, 8 bit and JPEG 10:1, against the bars.
# Takes hours; BRANCHKEEP_SOAK_SEEDS=0-19 makes a short one.   soak.sh BUILD
set -eu
cd "$(dirname "$0")/.."
build=$1
seeds=${BRANCHKEEP_SOAK_SEEDS:-1000-1299}
folder=$build/soak
python=/usr/bin/python3
mkdir -p "$folder"
$python validation/independent_phantom.py --seeds "$seeds" --out "$folder"
$python validation/evaluate.py "$folder" --seeds "$seeds" --branchkeep "$build/branchkeep" --jitter 2 --eight-bit --jpeg 10 \
    --json "$folder/accuracy.json" --bars
