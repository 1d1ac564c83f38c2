#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# What we write is a proper X-ray angiographic image: dciodvfy (dicom3tools), which checks against the standard's tables
# and shares nothing with us, finds no error. It warns of what the classic object leaves out but allows.
. "$(dirname "$0")/common.sh"
need dciodvfy
for form in "64 64 5 8" "64 64 1 12" "33 47 3 16 log" "64 64 2 10 log" "64 64 5 8 10"; do
    # shellcheck disable=SC2086 # several words on purpose
    "$BK_BUILD/tests/write_run" "$work/run.dcm" $form
    dciodvfy "$work/run.dcm" >"$work/answer" 2>&1 || true
    grep -q "^XAImage" "$work/answer"
    if grep "^Error" "$work/answer"; then
        exit 1
    fi
done
