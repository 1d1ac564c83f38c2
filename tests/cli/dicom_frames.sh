#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# `frames` answers as the contract says; `frame` writes stored values, or what a window shows (PS3.3 C.11.2.1.2.1, worked
# out here once more); MONOCHROME1 is turned over only with a window.
. "$(dirname "$0")/common.sh"
need dcmodify
need_python
"$BK_BUILD/tests/write_run" "$work/run.dcm" 40 50 4 12
"$BRANCHKEEP_BIN" frames "$work/run.dcm" >"$work/run.json"
"$BRANCHKEEP_BIN" frame "$work/run.dcm" --frame 2 --png "$work/stored.png"
"$BRANCHKEEP_BIN" frame --window=2000,1500 "$work/run.dcm" --frame 2 --png "$work/window.png"
cp "$work/run.dcm" "$work/turned.dcm"
dcmodify -nb -m PhotometricInterpretation=MONOCHROME1 "$work/turned.dcm"
"$BRANCHKEEP_BIN" frame "$work/turned.dcm" --frame 2 --png "$work/turned_stored.png"
"$BRANCHKEEP_BIN" frame "$work/turned.dcm" --frame 2 --png "$work/turned_window.png" --window 2000,1500
$python - "$work" <<'PY'
import json, sys
import numpy as np
from PIL import Image
work = sys.argv[1]
answer = json.load(open(work + "/run.json"))
wanted = {"schema": "branchkeep.frames/1", "modality": "XA", "sop_class": "1.2.840.10008.5.1.4.1.1.12.1",
          "transfer_syntax": "1.2.840.10008.1.2.1", "rows": 40, "columns": 50, "frames": 4, "bits_stored": 12,
          "frame_time_ms": 66.7, "frame_times_ms": [0, 66.7, 133.4, 200.1], "r_wave_frames": None,
          "primary_deg": -30, "secondary_deg": 20, "sid_mm": 1050, "sod_mm": 765, "imager_spacing_mm": [0.28, 0.28],
          "mm_per_px_isocentre": 0.204,  # 0.28 * 765 / 1050
          "intensity": "linear", "lossy_ratio": None, "warnings": []}
for key, value in wanted.items():
    assert answer[key] == value, (key, answer[key], value)
image = lambda name: np.array(Image.open(f"{work}/{name}.png")).astype(float)
stored = image("stored")
assert Image.open(work + "/stored.png").mode.startswith("I") and stored.max() > 255
centre, width = 2000, 1500
shown = np.clip(((stored - (centre - 0.5)) / (width - 1) + 0.5) * 255, 0, 255)
assert np.abs(image("window") - shown).max() <= 0.5 + 1e-9
assert (image("turned_stored") == stored).all()
assert (image("turned_window") == 255 - image("window")).all()
PY
echo "frames and frame answer as they should"
