#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Runs written by us, re-encoded by DCMTK's and OpenJPEG-based tools in every syntax: same pixels, which pydicom reads
# from our uncompressed file. (DCMTK's encoders, not its decoders, are the other party here; RLE and native are decoded
# by code of our own.)
. "$(dirname "$0")/common.sh"
need dcmcjpeg dcmcjpls dcmcrle dcmconv dcmdump gdcmconv djpeg
need_python
write_run="$BK_BUILD/tests/write_run"
for form in "64 80 3 8" "63 49 4 12" "40 40 1 16"; do
    rm -f "$work"/*.dcm
    # shellcheck disable=SC2086 # several words on purpose
    "$write_run" "$work/plain.dcm" $form
    dcmconv +ti "$work/plain.dcm" "$work/implicit.dcm"
    dcmconv +tb "$work/plain.dcm" "$work/big_endian.dcm"
    dcmconv +td "$work/plain.dcm" "$work/deflated.dcm"
    dcmcrle "$work/plain.dcm" "$work/rle.dcm"
    dcmcjpeg +e1 "$work/plain.dcm" "$work/lossless_sv1.dcm"
    dcmcjpeg +el +sv 6 "$work/plain.dcm" "$work/lossless_57.dcm"
    dcmcjpeg +e1 +fs 1 "$work/plain.dcm" "$work/lossless_split.dcm" # fragments of 1 kB, several a frame
    dcmcjpeg +e1 +fs 1 -ot "$work/plain.dcm" "$work/lossless_split_no_table.dcm"
    for split in lossless_split lossless_split_no_table; do
        # more items than one for the table and one a frame
        [ "$(dcmdump "$work/$split.dcm" | grep -c 'fffe,e000) pi')" -gt $((1 + $(echo "$form" | cut -d ' ' -f 3))) ]
    done
    dcmcjpls +el "$work/plain.dcm" "$work/jpeg_ls.dcm"
    gdcmconv --j2k "$work/plain.dcm" "$work/jpeg_2000.dcm"
    oracle same_pixels "$work/plain.dcm" "$work/implicit.dcm" "$work/big_endian.dcm" "$work/deflated.dcm" \
        "$work/rle.dcm" "$work/lossless_sv1.dcm" "$work/lossless_57.dcm" "$work/lossless_split.dcm" \
        "$work/lossless_split_no_table.dcm" "$work/jpeg_ls.dcm" "$work/jpeg_2000.dcm"
done
"$write_run" "$work/jpeg.dcm" 128 128 5 8 10
oracle written_jpeg "$work/jpeg.dcm"
# lossy encodings by DCMTK against libjpeg-turbo and, for 12 bits, our plain reading of T.81
"$write_run" "$work/plain.dcm" 64 80 2 8
dcmcjpeg +eb +q 75 "$work/plain.dcm" "$work/baseline.dcm"
oracle written_jpeg "$work/baseline.dcm"
"$write_run" "$work/plain.dcm" 64 80 2 12
dcmcjpeg +ee +q 75 "$work/plain.dcm" "$work/extended.dcm"
oracle extended_jpeg "$work/extended.dcm"
echo "11 syntaxes of 3 forms agree"
