#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# The page's server from outside: who is let in, what is too much or too slow, what is given up, how it ends.
. "$(dirname "$0")/common.sh"
[ -x "$python" ] || skip "python3 is not installed"
"$BRANCHKEEP_BIN" phantom --seed 5 --out "$work/phantom" >/dev/null
PYTHONDONTWRITEBYTECODE=1 $python "$BK_SOURCE/tests/support/serve_checks.py" "$BRANCHKEEP_BIN" "$work" "$work/phantom"
