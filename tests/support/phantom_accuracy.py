#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Measure phantoms and hold them against their truth, the scale of the true depth removed.

phantom_accuracy.py BRANCHKEEP FOLDER N
"""
import json
import math
import subprocess
import sys

LIMBS = ("proximal", "distal", "side")


def measure(program, folder, seed):
    subprocess.run([program, "phantom", "--seed", str(seed), "--out", folder], check=True, stdout=subprocess.DEVNULL)
    with open(folder + "/truth.json", encoding="utf-8") as file:
        view = json.load(file)["views"][0]
    clicks = sum([["--" + limb, "%.1f,%.1f" % tuple(view["clicks"][limb])] for limb in LIMBS], [])
    run = subprocess.run([program, "measure", folder + "/view1.dcm", "--frame", "1", *clicks], capture_output=True, text=True)
    return view, json.loads(run.stdout) if run.returncode == 0 else None, run.stderr.strip()


def main():
    program, folder, count = sys.argv[1], sys.argv[2], int(sys.argv[3])
    squares, failed, medina_wrong, medina_n = [], 0, 0, 0
    for seed in range(1, count + 1):
        view, found, why = measure(program, folder, seed)
        if found is None:
            print("seed %d: %s" % (seed, why))
            failed += 1
            continue
        scale = view["mm_per_px"] / view["mm_per_px_isocentre"]
        for limb in LIMBS:
            error = found["segments"][limb]["mld_mm"]["value"] * scale - view["segments"][limb]["mld_mm"]
            squares.append(error * error)
        if all(abs(view["segments"][limb]["stenosis_pct"] - 50) > 5 for limb in LIMBS):
            medina_n += 1
            medina_wrong += found["medina"] != view["medina"]
    rms = math.sqrt(sum(squares) / len(squares))
    print("%d limbs, MLD %.3f mm RMS, Medina wrong %d of %d, not measured %d" % (len(squares), rms, medina_wrong, medina_n, failed))
    return rms > 0.25 or failed > 0 or medina_wrong > 0.06 * medina_n


sys.exit(main())
