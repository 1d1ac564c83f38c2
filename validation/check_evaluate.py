#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Does evaluate.py find the errors it is given? TAP output.

A stand-in for the program answers with the truth plus known errors (in its own, isocentre, mm); the evaluator
must report exactly those errors, count its refusals, and miss the right bars.
"""
import json
import os
import stat
import subprocess
import sys
import tempfile

import numpy as np
import pydicom

import evaluate as evaluate_module

HERE = os.path.dirname(os.path.abspath(__file__))
STAND_IN = r'''#!/usr/bin/python3
import json, os, sys
import numpy as np
if os.path.basename(sys.argv[2]) == "seed0002.dcm":
    print("branchkeep: no lumen joins the clicks, a filled vessel was expected", file=sys.stderr)
    sys.exit(1)
t = json.load(open(sys.argv[2][:-4] + ".json"))
off = json.loads(os.environ["OFF"])
iso = t["mm_per_px_isocentre"]
def q(v, sd=0.0): return {"value": v, "sd": sd, "origin": "measured"}
segments = {}
for name, s in t["segments"].items():
    p = s["profile"]
    here = np.interp(s["mld_position_mm"], p["position_mm"], p["mm_per_px"])
    noise = {"proximal": 0, "distal": 1, "side": -1}[name] * off["mld_sd"]
    mld = (s["mld_mm"] + off["mld_bias"] + noise) * iso / here
    ref = (s["reference_mm"] + off["ref_bias"]) * iso / here
    segments[name] = {"mld_mm": q(mld, off["said_sd"] * iso / here), "reference_mm": q(ref, 0.03),
        "stenosis_pct": q(s["stenosis_pct"] + off["stenosis"], 1.0), "lesion_length_mm": None, "occluded": False,
        "mld_position_mm": s["mld_position_mm"],
        "profile": dict(p, diameter_mm=[(d + off["mld_bias"]) * iso / k for d, k in zip(p["diameter_mm"], p["mm_per_px"])],
                        sd_mm=[0.05] * len(p["x_px"]))}
angles = {k: q(v + off["angle"], 1.0) for k, v in t["angles"].items()}
b = t["branch_point_px"]
print(json.dumps({"segments": segments, "angles": angles, "branch_point_px": [b[0] + off["branch_mm"] / t["mm_per_px_branch"], b[1]],
    "core": {"diameter_mm": q(t["core"]["diameter_mm"] * iso / t["mm_per_px_branch"])}, "medina": t["medina"],
    "calibration": {"mm_per_px": iso}, "fit": {"mode": "density"}, "warnings": []}))
'''
count = failures = 0


def report(ok, what):
    global count, failures
    count += 1
    failures += not ok
    print(f"{'ok' if ok else 'not ok'} {count} - {what}")


def near(a, b, tolerance=2e-3):
    return a is not None and abs(a - b) <= tolerance


def evaluate(folder, off, *more):
    out = os.path.join(folder, "out.json")
    done = subprocess.run([sys.executable, os.path.join(HERE, "evaluate.py"), folder, "--branchkeep",
                           os.path.join(folder, "stand-in"), "--json", out, *more],
                          env=dict(os.environ, OFF=json.dumps(off)), capture_output=True, text=True, check=False)
    if not os.path.exists(out):
        raise SystemExit(done.stderr)
    with open(out, encoding="ascii") as f:
        return done.returncode, json.load(f), done.stdout


def copies(folder):
    """The variants hold the same picture: 8 bit to half a step, JPEG near it and as small as was asked."""
    path, eight, jpeg = (os.path.join(folder, n) for n in ("seed0000.dcm", "eight.dcm", "jpeg.dcm"))
    original = pydicom.dcmread(path)
    wanted = original.pixel_array * (255.0 / (2 ** original.BitsStored - 1))
    evaluate_module.eight_bit_copy(path, eight)
    report(np.abs(pydicom.dcmread(eight).pixel_array - wanted).max() <= 0.5 + 1e-9, "8-bit copy: same picture to half a step")
    quality, ratio = evaluate_module.jpeg_copy(path, jpeg, 10.0)
    back = pydicom.dcmread(jpeg)
    rms = float(np.sqrt(np.mean((back.pixel_array - wanted) ** 2)))
    report(10 <= ratio < 12 and rms < 8 and back.file_meta.TransferSyntaxUID == "1.2.840.10008.1.2.4.50",
           f"JPEG copy: baseline, {ratio:.1f}:1 at quality {quality}, {rms:.1f} grey steps RMS")


def baseline(folder, off):
    """--against finds the rise over an earlier result, and changes of single limbs that cancel in the mean."""
    base = os.path.join(folder, "base.json")
    evaluate(folder, off)
    os.rename(os.path.join(folder, "out.json"), base)
    code, got, _ = evaluate(folder, dict(off, mld_bias=0.03), "--against", base, "--bars")
    rise = next(b for b in got["bars"] if "rise" in b["bar"])
    report(near(rise["value"], 0.03) and not rise["met"] and code == 1, "--against finds a rise of the error and misses its bar")
    _, got, _ = evaluate(folder, dict(off, mld_sd=0.05), "--against", base)
    moved = got["against"]["change"]
    report(moved["n"] > 0 and moved["rms"] > 0.02, "--against finds single limbs that moved")


def main():
    print("TAP version 13")
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([sys.executable, os.path.join(HERE, "independent_phantom.py"), "--seeds", "0-7", "--wire-share", "0",
                        "--out", folder], check=True, capture_output=True)
        stand_in = os.path.join(folder, "stand-in")
        with open(stand_in, "w", encoding="ascii") as f:
            f.write(STAND_IN)
        os.chmod(stand_in, stat.S_IRWXU)
        off = {"mld_bias": 0.03, "mld_sd": 0.04, "ref_bias": -0.01, "stenosis": 1.5, "angle": 0.7, "branch_mm": 0.2,
               "said_sd": 0.01}
        _, got, text = evaluate(folder, off)
        every = got["plain"]["groups"]["all limbs, no wire"]
        report(got["plain"]["answered"] == 7 and "no lumen joins the clicks" in text, "a refusal is counted and its reason shown")
        report(near(every["mld"]["bias"], 0.03) and near(every["mld"]["rms"], (0.03 ** 2 + 2 / 3 * 0.04 ** 2) ** 0.5), "MLD error is found, scale removed")
        report(near(every["reference"]["bias"], -0.01) and near(every["stenosis_points"]["bias"], 1.5), "reference and stenosis errors are found")
        report(near(every["points"]["bias"], 0.03), "pointwise error is found")
        report(near(got["plain"]["angle"]["bias"], 0.7) and near(got["plain"]["branch_point_rms_mm"], 0.2), "angle and branch point errors are found")
        report(every["coverage"]["mld"] < 0.5, "an interval that is too small is found")
        report(not next(b for b in got["bars"] if b["bar"].startswith("coverage"))["met"], "its bar is missed")
        code, got, _ = evaluate(folder, off, "--bars")
        report(code == 1, "--bars exits 1 when a bar is missed")
        off.update(mld_bias=0.0, mld_sd=0.0, ref_bias=0.0, stenosis=0.0)
        _, got, _ = evaluate(folder, off)
        bars = {b["bar"]: b["met"] for b in got["bars"]}
        report(bars["MLD bias, mm"] and bars["MLD SD, mm"] and bars["MLD slope"], "the truth itself meets the bars for MLD")
        report(near(got["plain"]["groups"]["all limbs, no wire"]["mld"]["rms"], 0.0), "the truth itself has no error")
        baseline(folder, off)
        copies(folder)
    print(f"1..{count}")
    return failures > 0


if __name__ == "__main__":
    sys.exit(main())
