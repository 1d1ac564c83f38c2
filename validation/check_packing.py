#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""How wide a guide must be for two to five things side by side, against a free search. TAP output.

The program puts every circle against the wall (packing_tool runs its code alone). The search knows nothing of walls: positions and
radius are free, scipy.optimize.minimize (SLSQP) shrinks the radius under "inside" and "no overlap" from many random starts, and
the best feasible answer counts. If circles away from the wall ever needed less room, the search would find it.

  two, three    closed forms: sum, free gap, Descartes
  two to four   the search finds nothing smaller by more than 1e-4 mm, and gets there itself (within 2e-3 mm)
  five          the program's figure is an upper bound; how often and how far the search is smaller is printed
  placed        the search's own best positions are checked again for overlap, so it cannot win by cheating
"""
import os
import subprocess
import sys

import numpy as np
from scipy import optimize

BUILD = os.environ.get("BK_BUILD", os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "build"))
DEVICES = [0.3556, 0.60, 0.65, 0.69, 0.80, 0.85, 0.87, 0.90, 1.00, 1.10, 1.20]
count = failures = 0


def report(ok, what):
    global count, failures
    count += 1
    failures += not ok
    print(f"{'ok' if ok else 'not ok'} {count} - {what}", flush=True)


def program(cases):
    lines = "\n".join(f"{len(c)} " + " ".join(repr(float(d)) for d in c) for c in cases)
    done = subprocess.run([os.path.join(BUILD, "validation", "packing_tool")], input=lines, capture_output=True, text=True, check=True)
    return np.array(done.stdout.split(), float)


def search(diameters, rng, starts):
    """Smallest tube found, diameter; every answer is feasible to 1e-9."""
    r = np.asarray(diameters, float) / 2
    n = len(r)
    pairs = np.triu_indices(n, 1)
    sums = r[pairs[0]] + r[pairs[1]]

    def room(v):
        x = v[:-1].reshape(n, 2)
        gap = x[pairs[0]] - x[pairs[1]]
        return np.concatenate([(v[-1] - r) ** 2 - (x ** 2).sum(1), (gap ** 2).sum(1) - sums ** 2, v[-1:] - r.max()])

    def slope(v):
        x = v[:-1].reshape(n, 2)
        out = np.zeros((n + len(sums) + 1, 2 * n + 1))
        for i in range(n):
            out[i, 2 * i:2 * i + 2] = -2 * x[i]
            out[i, -1] = 2 * (v[-1] - r[i])
        for k, (i, j) in enumerate(zip(*pairs)):
            gap = 2 * (x[i] - x[j])
            out[n + k, 2 * i:2 * i + 2] = gap
            out[n + k, 2 * j:2 * j + 2] = -gap
        out[-1, -1] = 1
        return out

    best = np.inf
    along = np.append(np.zeros(2 * n), 1)
    for _ in range(starts):
        start = np.append(rng.normal(0, r.sum() / 2, 2 * n), r.sum() * 1.5)
        found = optimize.minimize(lambda v: v[-1], start, jac=lambda v: along, method="SLSQP",
                                  constraints={"type": "ineq", "fun": room, "jac": slope}, options={"maxiter": 200, "ftol": 1e-10})
        x = found.x[:-1].reshape(n, 2)
        apart = np.sqrt(((x[pairs[0]] - x[pairs[1]]) ** 2).sum(1))
        shrink = min(1.0, (apart / sums).min()) if len(sums) else 1.0
        if shrink > 0.99:  # blown up until nothing overlaps, then measured afresh
            best = min(best, 2 * (np.sqrt((x ** 2).sum(1)) / shrink + r).max())
    return best


def descartes(d):
    k = 2 / np.asarray(d)
    return 2 / abs(k.sum() - 2 * np.sqrt(k[0] * k[1] + k[1] * k[2] + k[0] * k[2]))


def closed_forms(rng):
    two = rng.uniform(0.2, 1.5, (200, 2))
    report(np.abs(program(two) - two.sum(1)).max() < 1e-9, "two circles: the sum of their diameters")
    three = np.sort(rng.uniform(0.2, 1.5, (400, 3)), axis=1)[:, ::-1]
    free = 2 / (2 / three[:, 0] + 2 / three[:, 1] - 2 / (three[:, 0] + three[:, 1]))
    want = np.where(three[:, 2] <= free, three[:, 0] + three[:, 1], [descartes(t) for t in three])
    report(np.abs(program(three) - want).max() < 1e-9, f"three circles: free gap or Descartes ({(three[:, 2] > free).sum()} of 400 by Descartes)")


def against_search(rng, n, cases, starts, draw):
    sets = [draw(n) for _ in range(cases)]
    mine = program(sets)
    found = np.array([search(s, rng, starts) for s in sets])
    return mine, found


def main():
    rng = np.random.default_rng(11)
    closed_forms(rng)
    draws = {"of devices": lambda n: rng.choice(DEVICES, n), "of any size": lambda n: np.exp(rng.uniform(np.log(0.1), np.log(1.5), n))}
    for n, cases, starts in [(3, 60, 12), (4, 120, 24)]:
        for name, draw in draws.items():
            mine, found = against_search(rng, n, cases, starts, draw)
            report((mine - found).max() < 1e-4, f"{n} circles {name}: the search finds nothing smaller (best by {max(0, (mine - found).max()):.1e} mm in {cases})")
            report(np.quantile(found - mine, 0.95) < 2e-3, f"{n} circles {name}: the search gets there (95 % within {np.quantile(found - mine, 0.95):.1e} mm)")
    mine, found = against_search(rng, 5, 60, 30, draws["of devices"])
    worst = (mine - found).max()
    report((found - mine).max() < 0.2, f"5 circles of devices: an upper bound; the search is smaller in {((mine - found) > 1e-3).sum()} of 60, at most by {max(0, worst):.3f} mm")
    print(f"1..{count}")
    return failures > 0


if __name__ == "__main__":
    sys.exit(main())
