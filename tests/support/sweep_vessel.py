#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
# sweep_vessel.py IN.dcm TRUTH.json OUT.dcm OWN MODE: draw into a moving digital cine a vessel of 2 mm that comes over the side
# limb in the frames after OWN. "along": parallel to the limb, as two vessels lie after a bend; "across": at a right angle.
# Drawn here from Beer's law, by none of the product's code.
import json
import sys

import numpy as np
import pydicom
from scipy.ndimage import distance_transform_edt, gaussian_filter

AWAY_MM = {-4: 11, -3: 11, -2: 11, -1: 11, 0: 11, 1: 5, 2: 2.2, 3: 0.6, 4: -1.0}  # from the limb's axis, by frame after OWN
RADIUS_MM = 1.0
FINE = 3  # parts of a pixel

source, truth, target, own, mode = sys.argv[1], sys.argv[2], sys.argv[3], int(sys.argv[4]), sys.argv[5]
d = pydicom.dcmread(source)
px = d.pixel_array.astype(float)
whole = json.load(open(truth))
view = whole["views"][0]
mm = view["mm_per_px"]
p = view["segments"]["side"]["profile"]
axis = np.array([p["x_px"], p["y_px"]]).T
chord = axis[-1] - axis[0]
along = chord / np.hypot(*chord)
normal = np.array([along[1], -along[0]])
main = np.mean([view["clicks"][k] for k in ("proximal", "distal")], axis=0)
if np.dot(main - axis.mean(axis=0), normal) > 0:
    normal = -normal  # it comes from the free side
for after, away in AWAY_MM.items():
    k = own + after - 1
    if not 0 <= k < len(px):
        continue
    shift = np.array(view["frames"][k]["moved_px"]) + normal * away / mm
    if mode == "along":
        line = np.vstack([axis[0] - along * 4 / mm, axis, axis[-1] + along * 25 / mm])
    else:
        line = axis[len(axis) // 2] + np.outer(np.linspace(-25, 25, 200) / mm, normal)
        shift = np.array(view["frames"][k]["moved_px"]) + along * away / mm
    line = line + shift
    rows, cols = px[k].shape
    mask = np.ones((rows * FINE, cols * FINE), bool)
    for a, b in zip(line, line[1:]):
        n = max(2, int(np.hypot(*(b - a)) * FINE * 2))
        q = np.rint((a + np.outer(np.linspace(0, 1, n), b - a) + 0.5) * FINE - 0.5).astype(int)
        q = q[(q >= 0).all(axis=1) & (q[:, 0] < cols * FINE) & (q[:, 1] < rows * FINE)]
        mask[q[:, 1], q[:, 0]] = False
    r = distance_transform_edt(mask) * mm / FINE
    through = 2 * np.sqrt(np.clip(RADIUS_MM ** 2 - r ** 2, 0, None))
    through = through.reshape(rows, FINE, cols, FINE).mean(axis=(1, 3))
    px[k] *= np.exp(-whole["render"]["density_per_mm"] * gaussian_filter(through, 0.7))
d.PixelData = np.clip(np.rint(px), 0, 2 ** d.BitsStored - 1).astype(d.pixel_array.dtype).tobytes()
d.save_as(target)
