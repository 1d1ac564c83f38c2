#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Add up meson's test log: each TAP line counts as a test, a script without TAP as one."""
import json
import re
import sys

passed = failed = skipped = 0
with open(sys.argv[1], encoding="utf-8") as log:
    for line in log:
        test = json.loads(line)
        result = test["result"]
        lines = re.findall(r"^(ok|not ok)\b([^\n]*)", test.get("stdout") or "", re.M)
        todo = sum(word == "not ok" and "# TODO" in rest for word, rest in lines)  # known and said so: not passed either
        skips = sum("# SKIP" in rest for word, rest in lines) + todo
        bad = sum(word == "not ok" for word, rest in lines) - todo
        good = len(lines) - skips - bad
        if not lines:
            good, bad, skips = (result == "OK"), (result not in ("OK", "SKIP")), (result == "SKIP")
        elif result not in ("OK", "SKIP", "EXPECTEDFAIL") and bad == 0:
            bad = 1  # it died after its last line
        passed, failed, skipped = passed + good, failed + bad, skipped + skips
print(f"{passed} passed, {failed} failed, {skipped} skipped")
sys.exit(failed > 0)
