#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""How wide a guide must be for two to five things side by side, against a free search. TAP output.

The program puts every circle against the wall (packing_tool runs its code alone). The search knows nothing of walls: positions and
radius are free, scipy.optimize.minimize (SLSQP) shrinks the radius under "inside" and "no overlap" from many random starts, and
the best feasible answer counts. If circles away from the wall ever needed less room, the search would find it.

  two, three    closed forms: sum, free gap, Descartes
  two to four   the search finds nothing smaller by more than 1e-4 mm, and gets there itself (within 2e-3 mm)
  five          the program's figure is an upper bound; how often and how far the search is smaller is printed
  guide         what `ask devices` says of the demo stock list: every section of every staggered state is built again here from the
                list's profiles, the widest is found by the search, and the answer must need the same room and never say "fits" or
                "tight" by packing where the search finds none
  placed        the search's own best positions are checked again for overlap, so it cannot win by cheating
"""
import csv
import itertools
import json
import os
import subprocess
import sys
import tempfile

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


WIRE = 0.3556
CASE = {"shelf": "demo", "anatomy": {"segments": {limb: {"reference_mm": d, "lesion_length_mm": 8} for limb, d in
        (("proximal", 3.73), ("distal", 3.0), ("side", 2.5))}, "angles": {"distal_side_deg": 60}}}
USES = {"main stent": "main_stent", "side-branch stent": "side_stent", "POT balloon": "pot_balloon", "side-branch balloon": "kissing_side",
        "main balloon": "kissing_main", "predilatation balloon": "predilatation"}


def levels(name, answer, shelf):
    """Sections of one device: front, distal shaft, proximal shaft with the wire beside it; a wire is the same all along."""
    if "microcatheter" in name:
        own = shelf["demo_dual_lumen" if "dual" in name else "demo_microcatheter"]
    elif "wire" in name:
        return [[WIRE]]
    else:
        item = [i for i in answer["items"] if i["use"] == USES[name]]
        own = shelf[item[0]["shelf_match"][0]["id"]] if item else {"front_mm": 1.1, "distal_mm": 0.85, "proximal_mm": 0.69, "kind": "stent"}  # evidence/fit.csv
    proximal = [float(own["proximal_mm"])] + ([] if own["kind"] == "microcatheter" else [WIRE])
    return [[float(own["front_mm"])], [float(own["distal_mm"])], proximal]


def widest(devices, rng):
    found = {}
    for chosen in itertools.product(*[range(len(d)) for d in devices]):
        fronts = sum(len(d) > 1 and k == 0 for d, k in zip(devices, chosen))
        circles = tuple(sorted(sum((d[k] for d, k in zip(devices, chosen)), [])))
        if fronts <= 1 and circles not in found:
            found[circles] = circles[0] if len(circles) == 1 else search(circles, rng, 8)
    return max(found.values())


def guide(rng):
    with open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "shelf", "demo.csv"), encoding="utf-8") as f:
        shelf = {row["id"]: row for row in csv.DictReader(f)}
    states = refuted = 0
    apart, cache = 0.0, {}
    for strategy in ("provisional_wire", "jailed_balloon", "kissing_predilatation", "tap", "culotte", "dk_crush"):
        CASE["decision"] = {"strategy": strategy}
        with tempfile.NamedTemporaryFile("w", suffix=".json") as f:
            json.dump(CASE, f)
            f.flush()
            answer = json.loads(subprocess.run([os.path.join(BUILD, "branchkeep"), "ask", "devices", f.name], capture_output=True, text=True, check=True).stdout)
        inner = {g["french"]: g["inner_mm"] for g in answer["guide"]["guides"]}
        for state in answer["guide"]["states"]:
            devices = [levels(d, answer, shelf) for d in state["devices"]]
            key = json.dumps(devices)
            if key not in cache:
                cache[key] = widest(devices, rng)
            states += 1
            apart = max(apart, abs(cache[key] - state["needed_mm"]))
            for one in state["in"]:
                room = cache[key] <= inner[one["french"]] + 0.005
                by_rule = one["verdict"] == "tight" and state["published_rule_french"] is not None and one["french"] >= state["published_rule_french"]
                refuted += one["verdict"] in ("fits", "tight") and not room and not by_rule
                refuted += one["verdict"] == "fits" and cache[key] > inner[one["french"]] - 0.05 + 0.005
    report(apart < 0.0051, f"guide: {states} states of six strategies need what the search finds (to {apart:.4f} mm, printed to 0.01)")
    report(refuted == 0, "guide: no \"fits\" that the search refutes, and no \"tight\" but by a published rule")


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
    guide(rng)
    print(f"1..{count}")
    return failures > 0


if __name__ == "__main__":
    sys.exit(main())
