#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Bad input ends in one line on stderr, nothing on stdout, and the right exit code; what is only cut stays of use.
. "$(dirname "$0")/common.sh"
need python3
"$BK_BUILD/tests/write_run" "$work/good.dcm" 64 64 10 8
"$BK_BUILD/tests/write_run" "$work/jpeg.dcm" 64 64 10 8 6

refused 4 "cannot be read" frames "$work/none.dcm"
refused 3 "folder" frames "$work"
: >"$work/empty.dcm"
refused 3 "empty" frames "$work/empty.dcm"
echo "no DICOM at all" >"$work/text.dcm"
refused 3 "not DICOM" frames "$work/text.dcm"
refused 3 "DICM" frames "$BRANCHKEEP_BIN"
refused 2 "file" frames
refused 2 "unexpected word" frames a b
refused 2 "takes none" frames --fast "$work/good.dcm"
refused 2 "frame 11" frame "$work/good.dcm" --frame 11 --png "$work/out.png"
refused 2 "whole number" frame "$work/good.dcm" --frame 0 --png "$work/out.png"
refused 2 "expected" frame "$work/good.dcm" --png "$work/out.png"
refused 2 "width" frame "$work/good.dcm" --frame 1 --png "$work/out.png" --window 100,0
refused 4 "cannot be written" frame "$work/good.dcm" --frame 1 --png "$work/none/out.png"
[ ! -e "$work/out.png" ]

# cut at every twentieth: exit 0 with `truncated`, or 3 with one line
for name in good jpeg; do
    size=$(wc -c <"$work/$name.dcm")
    last=0
    for twentieth in $(seq 1 19); do
        head -c $((size * twentieth / 20)) "$work/$name.dcm" >"$work/cut.dcm"
        if "$BRANCHKEEP_BIN" frames "$work/cut.dcm" >"$work/answer" 2>/dev/null; then
            grep -q '"code": "truncated"' "$work/answer"
            frames=$(sed -n 's/.*"frames": \([0-9]*\),/\1/p' "$work/answer")
            [ "$frames" -ge "$last" ] && [ "$frames" -lt 10 ]
            last=$frames
            "$BRANCHKEEP_BIN" frame "$work/cut.dcm" --frame "$frames" --png "$work/out.png"
        else
            refused 3 "cut file" frames "$work/cut.dcm"
            [ "$last" = 0 ]
        fi
    done
    [ "$last" -ge 8 ]
done

# a small deflated file that grows beyond the cap, and one that grows by as much as an honest one may
python3 - "$work" <<'PY'
import struct, sys, zlib
work = sys.argv[1]
def us(element, value):
    return struct.pack("<HH2sHH", 0x28, element, b"US", 2, value)
meta = bytes(128) + b"DICM" + struct.pack("<HH2sH", 2, 0x10, b"UI", 22) + b"1.2.840.10008.1.2.1.99"
def deflated(frames, zeros_mb):
    count = str(frames).encode()
    count += b" " * (len(count) % 2)
    head = us(2, 1) + struct.pack("<HH2sH", 0x28, 4, b"CS", 12) + b"MONOCHROME2 "
    head += struct.pack("<HH2sH", 0x28, 8, b"IS", len(count)) + count
    head += us(0x10, 1024) + us(0x11, 1024) + us(0x100, 8) + us(0x101, 8) + us(0x102, 7) + us(0x103, 0)
    head += struct.pack("<HH2sHI", 0x7FE0, 0x10, b"OB", 0, frames << 20)
    z = zlib.compressobj(9, zlib.DEFLATED, -15)
    first = z.compress(head) + z.flush(zlib.Z_FULL_FLUSH)
    mb = z.compress(bytes(1 << 20)) + z.flush(zlib.Z_FULL_FLUSH)  # stands alone, so it can be repeated
    return meta + first + mb * zeros_mb + z.flush()
open(work + "/bomb.dcm", "wb").write(deflated(2000, 2000))
open(work + "/honest.dcm", "wb").write(deflated(30, 30))
good = deflated(30, 30)
open(work + "/cut_deflated.dcm", "wb").write(good[: len(good) // 2])
open(work + "/damaged_deflated.dcm", "wb").write(meta + b"\xff" * 500)
PY
refused 3 "1073741824 bytes" frames "$work/bomb.dcm"
"$BRANCHKEEP_BIN" frames "$work/honest.dcm" | grep -q '"frames": 30,'
"$BRANCHKEEP_BIN" frames "$work/cut_deflated.dcm" | grep -q '"truncated"'
refused 3 "deflate" frames "$work/damaged_deflated.dcm"
echo "all refused in one line"
