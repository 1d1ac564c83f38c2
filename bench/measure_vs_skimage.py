#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Time of `measure` against scikit-image on the same picture, scales and clicks, alternating in one run.

  ours        bench_measure (bench/bench_measure.c): stages of one measurement after decoding, one core
  reference   skimage.filters.frangi at the same scales, then graph.MCP_Geometric from the proximal click and the two
              tracebacks, over the same crop or the whole frame as bench_measure says
  also        the whole program, from starting it to its JSON

Usage: measure_vs_skimage.py BUILD CASE...    CASE.dcm and CASE.json as independent_phantom.py writes them
"""
import json
import os
import subprocess
import sys
import time

import numpy as np
import pydicom
from skimage.filters import frangi
from skimage.graph import MCP_Geometric

ROUNDS = 7


def reference_ms(image, clicks, sigmas):
    """(ridge, path) in ms: what a user of the library would write for the same step."""
    start = time.perf_counter()
    ridge = frangi(image, sigmas=sigmas, black_ridges=True, gamma=0.05, mode="nearest")
    middle = time.perf_counter()
    costs = 1.0 / (0.02 + ridge / ridge.max())
    search = MCP_Geometric(costs, fully_connected=True)
    search.find_costs([clicks["proximal"]])
    for limb in ("distal", "side"):
        search.traceback(clicks[limb])
    return 1000 * (middle - start), 1000 * (time.perf_counter() - middle)


def ours(binary, case, clicks):
    points = ["{:.2f},{:.2f}".format(*clicks[limb]) for limb in ("proximal", "distal", "side")]
    return json.loads(subprocess.run([binary, case + ".dcm", *points], check=True, capture_output=True, text=True).stdout)


def program_ms(build, case, clicks):
    command = [os.path.join(build, "branchkeep"), "measure", case + ".dcm", "--frame", "1"]
    for limb in ("proximal", "distal", "side"):
        command += [f"--{limb}", "{:.2f},{:.2f}".format(*clicks[limb])]
    start = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    return 1000 * (time.perf_counter() - start)


def compare(build, case):
    with open(case + ".json", encoding="ascii") as f:
        truth = json.load(f)
    image = np.log(np.maximum(pydicom.dcmread(case + ".dcm").pixel_array.astype(float), 1.0))
    clicks = truth["clicks_px"]
    cells = {limb: (int(round(y)), int(round(x))) for limb, (x, y) in clicks.items()}
    binary = os.path.join(build, "bench", "bench_measure")
    has_stages = os.path.exists(binary)
    sigmas = ours(binary, case, clicks)["scales_px"] if has_stages else [1.5, 2.1, 3.0, 4.2, 6.0, 8.5]
    rounds = []
    for _ in range(ROUNDS):
        row = {"program_ms": program_ms(build, case, clicks)}
        row["skimage_ridge_ms"], row["skimage_path_ms"] = reference_ms(image, cells, sigmas)
        if has_stages:
            row.update(ours(binary, case, clicks))
        rounds.append(row)
    median = {k: float(np.median([r[k] for r in rounds])) for k in rounds[0] if not isinstance(rounds[0][k], list)}
    print(f"{image.shape[1]} x {image.shape[0]}, {len(sigmas)} scales, median of {ROUNDS} alternating rounds")
    print(f"  scikit-image: ridge {median['skimage_ridge_ms']:.1f} ms, path {median['skimage_path_ms']:.1f} ms")
    print(f"  whole program, with start and decoding: {median['program_ms']:.1f} ms")
    if not has_stages:
        print("  bench_measure is not built: no times of single stages")
        return
    step = median["ridge_ms"] + median["path_ms"]
    ratio = (median["skimage_ridge_ms"] + median["skimage_path_ms"]) / step
    print(f"  branchkeep: ridge {median['ridge_ms']:.2f} ms, path {median['path_ms']:.2f} ms, whole measure after decoding "
          f"{median['measure_ms']:.1f} ms, arena {median['arena_peak_bytes'] / image.size:.1f} bytes a pixel")
    print(f"  ridge and path: {ratio:.1f} times as fast as scikit-image (wanted: 10)")


def main():
    for case in sys.argv[2:]:
        compare(sys.argv[1], case)


if __name__ == "__main__":
    main()
