#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# One 10-bit angiogram in eight transfer syntaxes, published by a DICOM working group to test decoders.
#  - the lossless ones must give the pixels of the uncompressed one, read by pydicom;
#  - JPEG 2000 lossy: opj_decompress (shares the codec with us, not the glue around it): identical;
#  - JPEG 12 bit: our own plain reading of ITU-T T.81 in Python, with a floating-point transform: within 1;
#  - JPEG-LS near-lossless: within what its own header promises of the uncompressed pixels.
. "$(dirname "$0")/common.sh"
need opj_decompress
need_python
[ -f "$BRANCHKEEP_DATA/wg04-xa1/XA1_UNC" ] || skip "no data at BRANCHKEEP_DATA"
oracle wg04 "$BRANCHKEEP_DATA"
echo "8 transfer syntaxes agree"
