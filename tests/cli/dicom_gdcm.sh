#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# The same set, its two lossy JPEG kinds against GDCM: CharLS 2.4 (DCMTK has a fork of CharLS 1) and another copy of
# the IJG code with 12 bits. Related to what we use, but built and patched by others: identical pixels.
. "$(dirname "$0")/common.sh"
need gdcmconv
need_python
[ -f "$BRANCHKEEP_DATA/wg04-xa1/XA1_UNC" ] || skip "no data at BRANCHKEEP_DATA"
oracle wg04_gdcm "$BRANCHKEEP_DATA"
