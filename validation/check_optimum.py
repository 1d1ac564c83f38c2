#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Does the lumen fit reach the optimum of its own objective? TAP output.

Three narrowed straight lumens are drawn here (lesions of 6 mm, and of 3 mm, whose shoulders are corners; numpy: chord,
Beer-Lambert, Gaussian blur and pixels by 8 x 8 sub-pixels), fitted by the program's own code (lumen_fit_tool) and by scipy.optimize.least_squares on a model written again from
docs/methods/lumen.md: other quadrature, dense Jacobian, Poisson deviance residuals, true axes instead of found ones.

  the same   pixels, knots, priors (read from the constants of lumen_fit.c), noise gain (what the program estimated)
  not same   the program re-lays the axes through its own fitted centres (here they are exact), counts a few border
             pixels otherwise, works in floats from a table and stops after a limited number of rounds
Noise is drawn from a uniform distribution of the variance of Poisson noise, so that no pixel stands out and every robust
weight is 1. Scatter is none, in the picture and by a narrow prior in both fits.

Bars: 0.1 sd at the throats. Elsewhere 0.2 sd rms and 0.25 at most, set after a first look (0.15 and 0.20), for the differences
above; the ends of a limb, where a few border pixels decide, are printed but not judged.
"""
import json
import os
import re
import subprocess
import sys

import numpy as np
from numpy.polynomial.legendre import leggauss
from scipy import ndimage, optimize

SOURCE = os.environ.get("BK_SOURCE", os.path.join(os.path.dirname(os.path.abspath(__file__)), ".."))
BUILD = os.environ.get("BK_BUILD", os.path.join(SOURCE, "build"))
SIZE, OVER = 240, 8
MM, SIGMA, PHOTONS, PER_MM = 0.14, 0.8, 2500.0, 0.2
WAY = 0.41                     # rad, direction of the limbs
STEP, SAMPLES, FIRST = 0.5, 171, 8.0
POWERS = 5                     # of the background: 1, x .. x^4
GL = leggauss(48)


def constants():
    """The program's settings, by name."""
    with open(os.path.join(SOURCE, "src/core/image/lumen_fit.c"), encoding="ascii") as f:
        text = f.read()
    with open(os.path.join(SOURCE, "src/core/image/lumen_internal.h"), encoding="ascii") as f:
        text += f.read()
    return {k: float(v) for k, v in re.findall(r"#define (?:BK_LUMEN_)?(\w+) (-?[\d.]+(?:e-?\d+)?)\b", text)}


# ---------------------------------------------------------------- the picture
class Limb:
    def __init__(self, number, healthy_mm, throat_mm, lesion_mm):
        self.origin = np.array([70.0 - 24 * number, 22.0 + 62 * number])
        self.way = np.array([np.cos(WAY), np.sin(WAY)])
        self.normal = np.array([self.way[1], -self.way[0]])
        self.healthy, self.throat, self.half = healthy_mm / MM, throat_mm / MM, 0.5 * lesion_mm / MM
        self.length = STEP * (SAMPLES - 1)

    def place(self, x, y):
        """Arc length and signed distance of points."""
        dx, dy = x - self.origin[0], y - self.origin[1]
        return dx * self.way[0] + dy * self.way[1], dx * self.normal[0] + dy * self.normal[1]

    def diameter(self, s):
        """A lesion in the middle, raised cosine."""
        z = np.clip((s - 0.55 * self.length) / self.half, -1, 1)
        return self.healthy - (self.healthy - self.throat) * 0.5 * (1 + np.cos(np.pi * z))


def picture(limbs, rng):
    """Expected photons and the noisy picture."""
    fine = (np.arange(SIZE * OVER) + 0.5) / OVER - 0.5
    x, y = np.meshgrid(fine, fine)
    through = np.ones(x.shape)
    for limb in limbs:
        s, off = limb.place(x, y)
        through *= np.exp(-PER_MM * MM * 2 * np.sqrt(np.maximum((limb.diameter(s) / 2) ** 2 - off ** 2, 0)))
    through = ndimage.gaussian_filter(through, SIGMA * OVER, mode="nearest", truncate=6)
    through = through.reshape(SIZE, OVER, SIZE, OVER).mean(axis=(1, 3))
    x, y = np.meshgrid(np.arange(SIZE), np.arange(SIZE))
    ground = PHOTONS * np.exp(0.0012 * (x - 120) - 0.0007 * (y - 120) + 0.06 * np.sin(x / 55 + y / 80))
    mean = ground * through
    return (mean + np.sqrt(3 * mean) * rng.uniform(-1, 1, mean.shape)).astype(np.float32).astype(float)


def by_program(image, limbs):
    """What the program fits; the widest diameter of all limbs it starts from, which sets the unit of its background."""
    parts = [np.array([SIZE, SIZE, MM, 1.15 * SIGMA, 0.0, 1e-6]), image.ravel()]
    s = STEP * np.arange(SAMPLES)
    for k, limb in enumerate(limbs):
        off = 0.8 * np.sin(s / 14 + k)
        at = limb.origin + np.outer(s, limb.way) + np.outer(off, limb.normal)
        parts += [np.array([SAMPLES, STEP, FIRST]), np.column_stack([at, limb.diameter(s) * (1.12, 0.9, 1.05)[k]]).ravel()]
    done = subprocess.run([os.path.join(BUILD, "validation", "lumen_fit_tool")], input=np.concatenate(parts).astype("<f8").tobytes(),
                          capture_output=True, check=False)
    if done.returncode:
        raise SystemExit(done.stderr.decode())
    widest = max(np.max(limb.diameter(s)) * f for limb, f in zip(limbs, (1.12, 0.9, 1.05)))
    return json.loads(done.stdout), widest


# ---------------------------------------------------------------- the model, written again
def absorption(x, d, m, sigma):
    """Blurred 1 - exp(-m chord) of a round lumen; arrays of one shape. Gauss-Legendre in the angle."""
    angle, weight = GL[0] * np.pi / 2, GL[1] * np.pi / 2
    r = d / 2
    total = np.zeros_like(x)
    for t, w in zip(angle, weight):
        z = (x - r * np.sin(t)) / sigma
        total += w * np.exp(-0.5 * z * z) * -np.expm1(-2 * m * r * np.cos(t)) * r * np.cos(t)
    return total / (sigma * np.sqrt(2 * np.pi))


def hats(u, count):
    """Design matrix of straight pieces between the coefficients at 0, 1, 2, ..."""
    return np.maximum(1 - np.abs(u[:, None] - np.arange(count)[None]), 0)


def spline(u, count):
    """Design matrix of a cubic B-spline at parameter u; coefficient k is centred at k - 1."""
    away = np.abs(u[:, None] - (np.arange(count)[None] - 1))
    two, one = np.maximum(2 - away, 0), np.maximum(1 - away, 0)
    return (two ** 3 - 4 * one ** 3) / 6


class Model:
    """Residuals and Jacobian over the pixels and priors of the three limbs."""

    def __init__(self, image, limbs, found, widest, c):
        self.image, self.c, self.gain = image, c, found["noise_gain"]
        self.log_sigma0 = 0.5 * np.log((1.15 * SIGMA) ** 2 + 1 / 12)
        self.parts, at = [], 0
        y, x = np.mgrid[0:SIZE, 0:SIZE]
        for limb, got in zip(limbs, found["limbs"]):
            end = STEP * int((limb.length + 0.25) / STEP) - 0.5
            cells = int(np.floor((end - FIRST) * MM / c["KNOT_MM"] + 0.5))
            cell = (end - FIRST) / cells
            s, off = limb.place(x, y)
            radius = np.interp(s, got["first_px"] + got["step_px"] * np.arange(len(got["diameter_px"])), got["diameter_px"]) / 2
            use = (s >= FIRST) & (s < end) & (np.abs(off) <= radius + c["BESIDE_MM"] / MM)
            p = {"s": s[use], "x": off[use], "value": image[use], "cells": cells, "cell": cell, "start": FIRST - cell}
            n = [cells + 5, -(-(cells + 2) // int(c["CENTRE_CELLS"])) + 3, -(-(cells + 2) // int(c["BACKGROUND_CELLS"])) + 1]
            if n[0] != got["knots"]:
                raise SystemExit(f"check_optimum: {got['knots']} knots found, {n[0]} expected: the layout has changed")
            u = (p["s"] - p["start"]) / cell
            p["C"] = spline(u / c["CENTRE_CELLS"], n[1])
            ground, q = hats(u / c["BACKGROUND_CELLS"], n[2]), p["x"] / (0.5 * widest + c["BESIDE_MM"] / MM)
            p["B"] = np.hstack([ground * (q ** k)[:, None] for k in range(POWERS)])
            p["unit"] = 2 * (p["s"] - FIRST) / (cell * cells) - 1
            p["n"], p["at"] = n, np.cumsum([at, n[0], n[1], n[2] * POWERS, 2])
            at = p["at"][-1]
            p["limb"] = limb
            self.parts.append(p)
        self.size = at + 1               # the last: log sigma

    def expected(self, p, v, log_sigma, want_slopes):
        sigma = np.exp(log_sigma)
        d0, c0, b0, m0, end = p["at"]
        m = np.exp(v[m0] + v[m0 + 1] * p["unit"])
        shift = p["x"] - p["C"] @ v[c0:b0]
        ground = np.exp(p["B"] @ v[b0:m0])
        reach = min(np.sqrt(3) * sigma / p["cell"], 0.999) * p["cell"]
        w, slope = np.zeros_like(shift), {k: np.zeros_like(shift) for k in "xms"}
        toward = np.zeros((len(shift), c0 - d0))
        for node, share in ((-1, 1 / 6), (0, 2 / 3), (1, 1 / 6)):
            basis = spline((p["s"] + node * reach - p["start"]) / p["cell"], c0 - d0)
            d = basis @ v[d0:c0]
            w += share * absorption(shift, d, m, sigma)
            if want_slopes:
                h = 1e-4
                slope["x"] += share * (absorption(shift + h, d, m, sigma) - absorption(shift - h, d, m, sigma)) / (2 * h)
                slope["m"] += share * (absorption(shift, d, m * (1 + h), sigma) - absorption(shift, d, m * (1 - h), sigma)) / (2 * h)
                slope["s"] += share * (absorption(shift, d, m, sigma * (1 + h)) - absorption(shift, d, m, sigma * (1 - h))) / (2 * h)
                toward += share * ((absorption(shift, d + h, m, sigma) - absorption(shift, d - h, m, sigma)) / (2 * h))[:, None] * basis
        e = ground * (1 - w)
        if not want_slopes:
            return e, None
        j = np.zeros((len(e), self.size))
        j[:, d0:c0] = -ground[:, None] * toward
        j[:, c0:b0] = (ground * slope["x"])[:, None] * p["C"]
        j[:, b0:m0] = e[:, None] * p["B"]
        j[:, m0] = -ground * slope["m"]
        j[:, m0 + 1] = -ground * slope["m"] * p["unit"]
        j[:, -1] = -ground * slope["s"]
        return e, j

    def priors(self):
        """Matrix and right side: the prior residuals are P v - q."""
        c, rows, right = self.c, [], []

        def add(index, factor, sd, value=0.0):
            row = np.zeros(self.size)
            row[index] = np.array(factor) / sd
            rows.append(row)
            right.append(value / sd)
        knot = c["KNOT_MM"] * c["CENTRE_CELLS"]
        for p in self.parts:
            d0, c0, b0, m0, _ = p["at"]
            nb = p["n"][2]
            groups = [(d0, c0, c["DIAMETER_BEND"] * c["KNOT_MM"] ** 1.5 / MM, 0.0), (c0, b0, knot ** 1.5 / MM / 4, 1.0 / MM)]
            groups += [(b0 + k * nb, b0 + (k + 1) * nb, 0.3, 0.5 if k else 0.0) for k in range(POWERS)]
            for low, high, bend, sd in groups:
                for k in range(low, high - 2):
                    add([k, k + 1, k + 2], [1, -2, 1], bend / np.sqrt(self.corner[k] if low == d0 else 1.0))
                for k in range(low, high) if sd else ():
                    add([k], [1], sd)
            add([m0 + 1], [1], 0.05)
        first = [p["at"][3] for p in self.parts]
        for a in range(3):
            for b in range(a):
                add([first[a], first[b]], [1, -1], 0.2)
        add([self.size - 1], [1], 0.3, self.log_sigma0)
        return np.array(rows), np.array(right)

    def begin(self):
        """Start far from the answer: one diameter for each limb, no lesion."""
        v = np.zeros(self.size)
        for p in self.parts:
            d0, c0, b0, m0, _ = p["at"]
            v[d0:c0] = 0.8 * p["limb"].healthy
            v[b0:b0 + p["n"][2]] = np.log(np.median(p["value"]))
            v[m0] = np.log(0.16 * MM)
        v[-1] = self.log_sigma0
        return v

    def allow_corners(self, v):
        """The prior on the diameter's bends gives way where they are sharper than it allows for."""
        for p in self.parts:
            d0, c0 = p["at"][0], p["at"][1]
            z = np.diff(v[d0:c0], 2) / (self.c["CORNER_SDS"] * self.c["DIAMETER_BEND"] * self.c["KNOT_MM"] ** 1.5 / MM)
            self.corner[d0:c0 - 2] = 1 / (1 + z * z)

    def solve(self):
        """Weights of the bends and solution in turn, until nothing moves."""
        self.corner = np.ones(self.size)
        best = self.solve_once(self.begin())
        for _ in range(12):
            before = best.x
            self.allow_corners(before)
            best = self.solve_once(before)
            if np.abs(best.x - before).max() < 1e-3:
                break
        return best

    def solve_once(self, start):
        prior, right = self.priors()
        root = np.sqrt(self.gain)

        def deviance(value, e):
            e = np.maximum(e, 1e-3)
            return np.sign(value - e) * np.sqrt(np.maximum(2 * (value * np.log(value / e) - value + e), 0))

        def residuals(v):
            parts = [deviance(p["value"], self.expected(p, v, v[-1], False)[0]) / root for p in self.parts]
            return np.concatenate(parts + [prior @ v - right])

        def jacobian(v):
            parts = []
            for p in self.parts:
                e, j = self.expected(p, v, v[-1], True)
                r = deviance(p["value"], e)
                flat = np.abs(r) < 1e-3
                by = np.where(flat, -1 / np.sqrt(e), (1 - p["value"] / e) / np.where(flat, 1, r))
                parts.append(j * (by / root)[:, None])
            return np.vstack(parts + [prior])
        return optimize.least_squares(residuals, start, jac=jacobian, method="trf", x_scale="jac", xtol=1e-7, ftol=1e-9,
                                      gtol=1e-9, max_nfev=60)


# ---------------------------------------------------------------- the comparison
count = failures = 0


def report(ok, what):
    global count, failures
    count += 1
    failures += not ok
    print(f"{'ok' if ok else 'not ok'} {count} - {what}", flush=True)


def compare(seed, throats, lesion_mm, c):
    rng = np.random.default_rng([4411, seed])
    limbs = [Limb(k, *pair, lesion_mm) for k, pair in enumerate(throats)]
    image = picture(limbs, rng)
    found, widest = by_program(image, limbs)
    model = Model(image, limbs, found, widest, c)
    best = model.solve()
    inner, at_throat, spread = 0.0, 0.0, 0.0
    margin = int(1.0 / MM / STEP)
    for p, got in zip(model.parts, found["limbs"]):
        s, _ = p["limb"].place(np.array(got["x_px"]), np.array(got["y_px"]))
        own = spline((s - p["start"]) / p["cell"], p["n"][0]) @ best.x[p["at"][0]:p["at"][1]]
        gap = (np.array(got["diameter_px"]) - own) / np.array(got["sd_px"])
        k = int(np.argmin(own))
        rms = float(np.sqrt(np.mean(gap ** 2)))
        inner = max(inner, float(np.abs(gap[margin:-margin]).max()))
        at_throat, spread = max(at_throat, float(abs(gap[k]))), max(spread, rms)
        print(f"#   throat {own[k] * MM:.4f} mm by least_squares, {got['diameter_px'][k] * MM:.4f} by the program, true "
              f"{p['limb'].throat * MM:.2f}, sd {got['sd_px'][k] * MM:.4f}; difference {rms:.3f} sd rms, most {np.abs(gap[margin:-margin]).max():.3f}, "
              f"at the very ends {max(abs(gap[0]), abs(gap[-1])):.3f}")
    sigma = np.sqrt(np.exp(2 * best.x[-1]) - 1 / 12)
    print(f"#   psf {sigma:.4f} and {found['psf_sigma_px']:.4f} px (sd {found['psf_sd_px']:.4f}); least_squares: {best.nfev} evaluations, "
          f"status {best.status}; program: {found['rounds']} rounds, converged {found['converged']}")
    report(best.success and at_throat <= 0.1 and spread <= 0.2 and inner <= 0.25,
           f"same optimum, picture {seed}: throats differ by {at_throat:.3f} sd (at most 0.1), all places by {spread:.3f} rms (0.2), "
           f"the worst 1 mm or more from an end by {inner:.3f} (0.25)")


def main():
    print("TAP version 13")
    c = constants()
    if c["GROUND_DEGREE"] != 1 or c["BACKGROUND_N"] != POWERS:
        raise SystemExit("check_optimum: the background has changed; it is written again here as straight pieces along, x^0 to x^4 across")
    compare(1, ((2.6, 0.9), (3.2, 1.8), (1.8, 0.6)), 6.0, c)
    compare(2, ((3.4, 2.4), (2.2, 1.2), (1.5, 0.75)), 6.0, c)
    compare(3, ((2.6, 1.2), (3.4, 1.4), (2.0, 0.9)), 3.0, c)
    print(f"1..{count}")
    return failures > 0


if __name__ == "__main__":
    sys.exit(main())
