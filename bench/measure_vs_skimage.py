#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Time of `measure` against scikit-image on the same picture, scales and clicks, alternating in one run.

  ours        bench_measure (bench/bench_measure.c): stages of one measurement after decoding
  reference   skimage.filters.frangi at the same scales, then graph.MCP_Geometric from the proximal click and the two
              tracebacks; like our ridge and path stages over the whole frame
  also        the whole program, from starting it to its JSON; how the cost grows with the pixels (the same picture
              resampled) and with the length of vessel (clicks moved inwards along the true axes)

Times are of the processor, one thread on either side, so that a busy machine disturbs them less; only the whole program is
timed by the wall clock.

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

ROUNDS = 5
LIMBS = ("proximal", "distal", "side")
STAGES = ("grey_ms", "log_blur_ms", "ridge_ms", "path_ms", "trace_ms", "edges_ms", "lumen_ms", "measure_ms")
SIZES = (256, 384, 512, 768, 1024)
WANTED_MS = {512: 25.0, 1024: 80.0}
WANTED_RATIO, WANTED_FRAMES = 10.0, 20.0


def reference_ms(image, clicks, sigmas):
    """(ridge, path) in ms: what a user of the library would write for the same step."""
    start = time.process_time()
    ridge = frangi(image, sigmas=sigmas, black_ridges=True, gamma=0.05, mode="nearest")
    middle = time.process_time()
    costs = 1.0 / (0.02 + ridge / ridge.max())
    search = MCP_Geometric(costs, fully_connected=True)
    search.find_costs([clicks["proximal"]])
    for limb in ("distal", "side"):
        search.traceback(clicks[limb])
    return 1000 * (middle - start), 1000 * (time.process_time() - middle)


def ours(build, case, clicks, *more):
    points = ["{:.2f},{:.2f}".format(*clicks[limb]) for limb in LIMBS]
    done = subprocess.run([os.path.join(build, "bench", "bench_measure"), case + ".dcm", *points, *more], check=True,
                          capture_output=True, text=True)
    return json.loads(done.stdout)


def program_ms(build, case, clicks):
    command = [os.path.join(build, "branchkeep"), "measure", case + ".dcm", "--frame", "1"]
    for limb in LIMBS:
        command += [f"--{limb}", "{:.2f},{:.2f}".format(*clicks[limb])]
    start = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    return 1000 * (time.perf_counter() - start)


def verdict(ok):
    return "met" if ok else "MISSED"


def compare(build, case, truth):
    """Print the ratios of one case; returns whether every bar is met."""
    image = np.log(np.maximum(pydicom.dcmread(case + ".dcm").pixel_array.astype(float), 1.0))
    clicks = truth["clicks_px"]
    cells = {limb: (int(round(y)), int(round(x))) for limb, (x, y) in clicks.items()}
    sigmas = ours(build, case, clicks, "--runs", "1")["scales_px"]
    rounds = []
    for _ in range(ROUNDS):
        row = dict(ours(build, case, clicks, "--runs", "5"), program_ms=program_ms(build, case, clicks))
        row["skimage_ridge_ms"], row["skimage_path_ms"] = reference_ms(image, cells, sigmas)
        rounds.append(row)
    m = {k: float(np.median([r[k] for r in rounds])) for k in rounds[0] if not isinstance(rounds[0][k], list)}
    print(f"\n## {image.shape[1]} x {image.shape[0]}, {len(sigmas)} scales, median of {ROUNDS} alternating rounds\n")
    print("| stage | branchkeep, ms | scikit-image, ms | ratio |\n|---|---|---|---|")
    step, other = m["ridge_ms"] + m["path_ms"], m["skimage_ridge_ms"] + m["skimage_path_ms"]
    for name, a, b in (("ridge filter", m["ridge_ms"], m["skimage_ridge_ms"]), ("cheapest paths", m["path_ms"], m["skimage_path_ms"]),
                       ("both", step, other)):
        print(f"| {name} | {a:.2f} | {b:.1f} | {b / a:.1f} |")
    print("\n| inside one measurement | ms |\n|---|---|")
    for name, key in (("grey values to intensity", "grey_ms"), ("log and smoothing", "log_blur_ms"), ("ridge and paths around the clicks", "trace_ms"),
                      ("edges, one look", "edges_ms"), (f"joint fit, {m['rounds']:.0f} rounds", "lumen_ms"), ("whole measure after decoding", "measure_ms"),
                      ("the same, first run of a process (fresh memory)", "measure_first_ms")):
        print(f"| {name} | {m[key]:.2f} |")
    print(f"| whole program, with start and decoding (wall clock) | {m['program_ms']:.1f} |")
    pixels = m["rows"] * m["columns"]
    frames = m["arena_per_frame"]
    print(f"\narena at its peak: {frames:.1f} frames of 16-bit pixels, {m['arena_peak_bytes'] / pixels / 4:.1f} of floats")
    bars = [("ridge and path against scikit-image", other / step, other / step >= WANTED_RATIO, f"at least {WANTED_RATIO:g} times"),
            ("arena, 16-bit frames", frames, frames <= WANTED_FRAMES, f"at most {WANTED_FRAMES:g}")]
    if image.shape[0] in WANTED_MS:
        most = WANTED_MS[image.shape[0]]
        bars.append(("whole measure after decoding, ms", m["measure_ms"], m["measure_ms"] <= most, f"at most {most:g}"))
    for name, value, ok, wanted in bars:
        print(f"  {verdict(ok)} {name}: {value:.1f} (wanted {wanted})")
    return all(b[2] for b in bars)


def exponent(x, y):
    """Slope of log y over log x: 1 is linear."""
    return float(np.polyfit(np.log(x), np.log(np.maximum(y, 1e-4)), 1)[0])


def growth(title, key, unit, rows):
    print(f"\n## {title}\n")
    print(f"| {unit} | " + " | ".join(s[:-3] for s in STAGES) + " |\n|" + "---|" * (len(STAGES) + 1))
    for r in rows:
        print(f"| {key(r):.0f} | " + " | ".join(f"{r[s]:.2f}" for s in STAGES) + " |")
    x = [key(r) for r in rows]
    print("| exponent | " + " | ".join(f"{exponent(x, [r[s] for r in rows]):.2f}" for s in STAGES) + " |")


def shortened(truth, share):
    """Clicks on the true axes at a share of the way to the original clicks."""
    out = {}
    for limb in LIMBS:
        p, end = truth["segments"][limb]["profile"], truth["segments"][limb]["click_mm"]
        out[limb] = [float(np.interp(share * end, p["position_mm"], p[k])) for k in ("x_px", "y_px")]
    return out


def main():
    build, good = sys.argv[1], True
    for case in sys.argv[2:]:
        with open(case + ".json", encoding="ascii") as f:
            truth = json.load(f)
        good = compare(build, case, truth) and good
        if case == sys.argv[2]:
            growth("Cost over pixels (the same picture resampled; ms)", lambda r: r["rows"] * r["columns"] / 1000, "1000 pixels",
                   [ours(build, case, truth["clicks_px"], "--size", str(size)) for size in SIZES])
            growth("Cost over length of vessel (ms)", lambda r: r["path_px"], "px of axis",
                   [ours(build, case, shortened(truth, share)) for share in (0.6, 0.7, 0.8, 0.9, 1.0)])
    print("\nEvery bar met." if good else "\nA bar was missed.")


if __name__ == "__main__":
    main()
