#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Run one of the checks of this folder with Debian's python, which has numpy; TAP either way.
set -eu
cd "$(dirname "$0")"
python=/usr/bin/python3
if ! $python -c 'import numpy, scipy, pydicom, PIL' 2>/dev/null; then
    echo "1..0 # SKIP python3 with numpy, scipy, pydicom and PIL is not installed"
    exit 0
fi
PYTHONDONTWRITEBYTECODE=1 exec $python "$1"
