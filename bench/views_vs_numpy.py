#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The search for views against numpy: foreshortening of three limbs and the gaps between them, one position at a time, arrays
over samples. Ratio of times per position within one run, and the bar of 100 ms for the whole search.   views_vs_numpy.py BUILD"""
import json
import os
import subprocess
import sys
import time

import numpy as np

HERE = os.path.dirname(os.path.abspath(__file__))
SOLID = os.path.join(HERE, "..", "tests", "data", "solid.json")
SOD_MM, PIECE_MM, BAR_MS, ROUNDS = 750.0, 0.5, 100.0, 5
LIMBS = ("proximal", "distal", "side")


def pieces(segment):
    p, d = np.array(segment["points_mm"]), np.array(segment["diameter_mm"])
    s = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(p, axis=0), axis=1))])
    n = min(max(int(np.ceil(s[-1] / PIECE_MM)), 8), 64)
    ends = np.stack([np.interp(np.linspace(0, s[-1], n + 1), s, p[:, k]) for k in range(3)], axis=1)
    middle = (np.arange(n) + 0.5) * s[-1] / n
    along = np.diff(ends, axis=0)
    return (np.stack([np.interp(middle, s, p[:, k]) for k in range(3)], axis=1),
            along / np.linalg.norm(along, axis=1, keepdims=True), np.interp(middle, s, d) / 2)


def look(limbs, primary, secondary):
    a, b = np.radians(primary), np.radians(secondary)
    beam = np.array([np.sin(a) * np.cos(b), -np.cos(a) * np.cos(b), np.sin(b)])
    right, up = np.array([np.cos(a), np.sin(a), 0]), np.array([-np.sin(a) * np.sin(b), np.cos(a) * np.sin(b), np.cos(b)])
    lost, shadows = [], []
    for at, along, radius in limbs:
        w = at + SOD_MM * beam
        scale = SOD_MM / (w @ beam)
        ray = w / np.linalg.norm(w, axis=1, keepdims=True)
        lost.append(1 - np.sqrt(np.maximum(1 - np.einsum("ij,ij->i", along, ray) ** 2, 0)).mean())
        shadows.append((np.stack([scale * (w @ right), scale * (w @ up)], axis=1), scale * radius))
    gap = [np.full(len(r), np.inf) for _, r in shadows]
    for i in range(3):
        j = (i + 1) % 3
        (p, r), (q, t) = shadows[i], shadows[j]
        g = np.linalg.norm(p[:, None] - q[None], axis=2) - r[:, None] - t[None]
        gap[i], gap[j] = np.minimum(gap[i], g.min(axis=1)), np.minimum(gap[j], g.min(axis=0))
    return lost, gap


def main():
    build = sys.argv[1]
    with open(SOLID) as f:
        document = json.load(f)
    limbs = [pieces(document["segments"][n]) for n in LIMBS]
    places = [(i % 121 - 60, i // 121 - 40) for i in range(9801)]
    sample, ours, theirs = places[::49], [], []
    for _ in range(ROUNDS):  # both sides alternating
        ours.append(json.loads(subprocess.run([os.path.join(build, "bench", "bench_views"), SOLID, "5"], capture_output=True, text=True, check=True).stdout))
        start = time.process_time()
        for p in sample:
            look(limbs, *p)
        theirs.append(1e6 * (time.process_time() - start) / len(sample))
    us, views_ms = np.median([o["look_us"] for o in ours]), np.median([o["views_ms"] for o in ours])
    print("views: %.1f ms for %d positions, the map and the way around the patient (bar %.0f ms: %s)"
          % (views_ms, ours[0]["positions"], BAR_MS, "met" if views_ms <= BAR_MS else "MISSED"))
    print("one position: %.2f us, numpy %.0f us, ratio %.0f" % (us, np.median(theirs), np.median(theirs) / us))
    mean = np.mean([look(limbs, *p)[0][0] for p in places])
    same = abs(mean - ours[0]["mean_foreshortening"]) < 1e-4
    print("mean foreshortening of the proximal limb over the reach: %.5f, numpy %.5f" % (ours[0]["mean_foreshortening"], mean))
    return 0 if same and views_ms <= BAR_MS else 1


if __name__ == "__main__":
    sys.exit(main())
