#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Does a point seen in two views come back where it is, and how far off with noisy points? TAP output.

The program's own code (carm_tool: bk_carm_set, bk_carm_meet) against things that are not it:

  projection        points in space projected by independent_phantom.View (PS3.3 C.8.7.5 written again in numpy) come back
  least squares     scipy.optimize.least_squares on the distances of a point from both rays; without a common point the middle of the
                    shortest connection is its optimum (closed form), and each ray lies half the gap away
  reprojection      scipy.optimize.least_squares on the pixel distances in both views, the maximum-likelihood point: the middle must
                    be as exact to within 2 % of the RMS error, and is allowed no more
  view separation   worst-axis error, point error 1 across each ray, by Monte Carlo, against the factors of the project's notes
                    (15 degrees 5.4 ... 90 degrees 1.00), which follow from 1 / (sqrt 2 sin(angle / 2))
  gap               the rays' gap is the difference of two independent errors: SD sqrt 2
"""
import os
import subprocess
import sys

import numpy as np
from scipy import optimize

import independent_phantom as ph
from independent_pairs import angles_of, apart, turned

BUILD = os.environ.get("BK_BUILD", os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "build"))
FACTORS = {15: "5.4", 20: "4.1", 25: "3.3", 30: "2.7", 45: "1.85", 60: "1.41", 90: "1.00"}
DRAWS = 40000
count = failures = 0


def report(ok, what):
    global count, failures
    count += 1
    failures += not ok
    print(f"{'ok' if ok else 'not ok'} {count} - {what}", flush=True)


def numbers_of(view):
    return [view.primary_deg, view.secondary_deg, view.sid_mm, view.sod_mm, view.pitch_mm, view.pitch_mm, view.size_px, view.size_px]


def meet(cases):
    """[(view, view, (2,), (2,))] -> points (n,3) and gaps (n,) of the program."""
    lines = "\n".join(" ".join(repr(float(v)) for v in numbers_of(a) + numbers_of(b) + [*p, *q]) for a, b, p, q in cases)
    done = subprocess.run([os.path.join(BUILD, "validation", "carm_tool")], input=lines, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(done.stderr)
    table = np.array(done.stdout.split(), float).reshape(-1, 4)
    if len(table) != len(cases):
        raise SystemExit(f"check_triangulation: {len(table)} answers for {len(cases)} pairs")
    return table[:, :3], table[:, 3]


def draw_pair(rng):
    first = ph.draw_view(rng, 512)
    primary, secondary = angles_of(turned(first.beam, np.radians(rng.uniform(12, 100)), rng))
    other = ph.draw_view(rng, int(rng.choice([512, 1024])))
    return first, ph.View(float(primary), float(secondary), other.sid_mm, other.sod_mm, other.pitch_mm, other.size_px)


def ray(view, at):
    return view.rays(np.array([at[0]]), np.array([at[1]]))[0]


def by_rays(a, b, p, q):
    """Nearest to both rays."""
    rays = [(v.source, ray(v, at)) for v, at in ((a, p), (b, q))]
    got = optimize.least_squares(lambda x: np.concatenate([np.cross(x - s, d) for s, d in rays]), np.zeros(3), xtol=1e-14, ftol=1e-14, gtol=1e-14)
    return got.x, [np.linalg.norm(np.cross(got.x - s, d)) for s, d in rays]


def by_pixels(a, b, p, q):
    """Nearest in both pictures."""
    def residual(x):
        return np.concatenate([a.project(x[None])[0] - p, b.project(x[None])[0] - q])
    return optimize.least_squares(residual, np.zeros(3), x_scale=10.0, xtol=1e-12, ftol=1e-12, gtol=1e-12).x


def random_geometries():
    rng = np.random.default_rng(5100)
    cases, truth = [], []
    for _ in range(300):
        a, b = draw_pair(rng)
        point = rng.uniform(-30, 30, 3)
        cases.append((a, b, a.project(point[None])[0], b.project(point[None])[0]))
        truth.append(point)
    got, gap = meet(cases)
    worst = np.linalg.norm(got - truth, axis=1).max()
    report(worst < 1e-6 and gap.max() < 1e-6, f"projected points come back ({len(cases)} random pairs, worst {worst:.1e} mm, gap {gap.max():.1e} mm)")

    noisy = [(a, b, p + rng.normal(scale=0.6, size=2), q + rng.normal(scale=0.6, size=2)) for a, b, p, q in cases]
    got, gap = meet(noisy)
    rays = [by_rays(*c) for c in noisy]
    off = np.linalg.norm(got - [r[0] for r in rays], axis=1).max()
    halves = np.abs(np.array([r[1] for r in rays]) - gap[:, None] / 2).max()
    report(off < 1e-5 and halves < 1e-5, f"noisy points: the optimum of least_squares on the rays (worst {off:.1e} mm; half gaps to {halves:.1e} mm)")

    ours = np.sqrt(np.mean((got - truth) ** 2))
    best = np.sqrt(np.mean((np.array([by_pixels(*c) for c in noisy]) - truth) ** 2))
    report(ours < 1.02 * best, f"as exact as least_squares on the pixels (RMS error {ours:.4f} and {best:.4f} mm)")


def factor(degrees, rng):
    """Worst-axis SD of a point at the isocentre, and SD of the gap, per mm of point error across each ray."""
    first = ph.View(float(rng.uniform(-40, 40)), float(rng.uniform(-30, 30)), 1050.0, 750.0, 0.2, 512)
    primary, secondary = angles_of(turned(first.beam, np.radians(degrees), rng))
    second = ph.View(float(primary), float(secondary), 1050.0, 750.0, 0.2, 512)
    if abs(apart(first, second) - degrees) > 1e-6:
        raise SystemExit("check_triangulation: the views are not as far apart as asked")
    sd_px = 0.3
    noise = rng.normal(scale=sd_px, size=(DRAWS, 4)) + first.centre_px
    got, gap = meet([(first, second, n[:2], n[2:]) for n in noise])
    unit = sd_px * 0.2 * 750 / 1050
    return np.sqrt(np.linalg.eigvalsh(np.cov(got.T))[-1]) / unit, np.sqrt(np.mean(gap ** 2)) / unit


def main():
    print("TAP version 13")
    random_geometries()
    rng = np.random.default_rng(5101)
    gaps = []
    for degrees, text in FACTORS.items():
        got, gap = factor(degrees, rng)
        gaps.append(gap)
        want, last_digit = float(text), 0.5 * 10.0 ** -len(text.partition(".")[2])
        chance = 4 / np.sqrt(2 * DRAWS) * want               # 4 standard errors of an SD
        report(abs(got - want) < last_digit + chance, f"views {degrees} degrees apart: worst-axis factor {got:.3f}, noted {text} "
               f"(closed form {1 / (np.sqrt(2) * np.sin(np.radians(degrees) / 2)):.3f})")
    off = np.abs(np.array(gaps) / np.sqrt(2) - 1).max()
    report(off < 4 / np.sqrt(2 * DRAWS), f"the gap of the rays has SD sqrt 2 at every separation (worst {100 * off:.2f} % off)")
    print(f"1..{count}")
    return failures > 0


if __name__ == "__main__":
    sys.exit(main())
