#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# 20 phantoms of our own: truth from the geometry, MLD within 0.25 mm RMS (the bar), Medina right away from 50 %.
. "$(dirname "$0")/common.sh"
set +e
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
python3 "$(dirname "$0")/../support/phantom_accuracy.py" "$BRANCHKEEP_BIN" "$dir" 20
