#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# count: corrected frame count from the film's own times, its arithmetic redone from `frames`; bad input.
. "$(dirname "$0")/common_case.sh"
"$BRANCHKEEP_BIN" phantom --seed 9 --frames 8 --out p >/dev/null
film=$(find p -name '*.dcm' | head -n 1)
"$BRANCHKEEP_BIN" frames "$film" >film.json
ok count "$film" --first 2 --last 7 --vessel lad
python3 - <<'PY' || fail "$(cat answer)"
import json
film, a = json.load(open("film.json")), json.load(open("answer"))
times = film["frame_times_ms"] or [k * film["frame_time_ms"] for k in range(film["frames"])]
seconds = (times[6] - times[1]) / 1000
assert abs(a["frames_at_30"] - 30 * seconds) < 0.051
assert abs(a["corrected_frame_count"] - 30 * seconds / 1.7) < 0.051  # Gibson 1996
assert abs(a["front_velocity_cm_s"] - 14.7 / seconds) < 0.051
# Gibson 1996 corrected and as counted; a second series, Coron Artery Dis 2004;15:205
assert [(n["value"], n["sd"]) for n in a["norms"]] == [(21, 3.1), (36.2, 2.6), (30.1, 7.6)]
assert a["for_the_case"]["path"] == "anatomy.front_velocity_cm_s"
assert a["for_the_case"]["value"] == {"value": a["front_velocity_cm_s"], "sd": a["front_velocity_sd_cm_s"], "origin": "measured"}
assert a["normal"] == {"value": 21, "sd": 3.1} and len(a["cautions"]) > 1
PY
ok count "$film" --first 2 --last 7 --vessel rca
refused 2 'frames 7 to 2 were found, two rising numbers from 1 to 8 were expected' count "$film" --first 7 --last 2 --vessel rca
refused 2 'frames 3 to 99 were found, two rising numbers from 1 to 8 were expected' count "$film" --first 3 --last 99 --vessel rca
refused 2 '--vessel "aorta" was found, lad, lcx or rca was expected' count "$film" --first 3 --last 9 --vessel aorta
refused 2 'not all of --first, --last, --vessel were found, all three were expected' count "$film" --first 3
got=0
"$BRANCHKEEP_BIN" count answer --first 1 --last 2 --vessel lad >stdout 2>stderr || got=$?
[ "$got" = 3 ] && [ ! -s stdout ] && [ "$(wc -l <stderr)" = 1 ] || fail "not a film: code $got, $(cat stderr)"
