#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Memory is that of one frame plus a constant: describing a run and decoding its last frame must peak no higher for 300
# frames of 256 x 256 x 16 bits (39 MB) than for 1 frame, within 1 MB for the index, in every way frames are stored.
# dicom_memory.sh SIDE takes another size.
. "$(dirname "$0")/common.sh"
need dcmcrle dcmcjpeg dcmconv
side=${1:-256}
peak_kb=$BK_BUILD/tests/peak_kb
for frames in 1 300; do
    "$BK_BUILD/tests/write_run" "$work/plain_$frames.dcm" $side $side $frames 12
    dcmcrle "$work/plain_$frames.dcm" "$work/rle_$frames.dcm"
    dcmcjpeg +e1 "$work/plain_$frames.dcm" "$work/jpeg_$frames.dcm"
    dcmconv +td "$work/plain_$frames.dcm" "$work/deflated_$frames.dcm"
done
bad=0
for kind in plain deflated rle jpeg; do
    for frames in 1 300; do
        file=$work/${kind}_$frames.dcm
        describing=$("$peak_kb" "$BRANCHKEEP_BIN" frames "$file")
        decoding=$("$peak_kb" "$BRANCHKEEP_BIN" frame "$file" --frame $frames --png "$work/out.png")
        eval "peak_$frames=$((describing > decoding ? describing : decoding))"
    done
    echo "$kind: peak $peak_1 kB with 1 frame, $peak_300 kB with 300"
    [ "$peak_300" -le $((peak_1 + 1024)) ] || bad=1
done
exit $bad
