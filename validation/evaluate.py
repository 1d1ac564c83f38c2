#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""How good is `branchkeep measure` on digital angiograms whose truth is known?

Reads seedNNNN.dcm + seedNNNN.json (independent_phantom.py), runs the program with the clicks of the truth, and
prints bias, SD, RMS, slope and the coverage of the 90 % intervals; with --bars it exits 1 when a bar is missed.

  the depth scale is removed: a measured diameter in mm is turned back into pixels with the scale the program used
  (its isocentre) and into mm with the true scale at that place. `as is` rows keep the program's own mm.
  reference            compared at the place where the program reports it
  coverage             share of |measured - true| <= 1.645 sd
  lesions (the bar)    limbs with a lesion of 4 mm or more that does not begin in the core, no wire in the limb,
                       true MLD 0.5-3.5 mm. Everything else is shown as a class of its own.

  against              with --against BASE.json the phantoms of DIR are a variant (lossy, recoded, another program) of those
                       behind BASE.json: the bars are then the rise of the RMS error and the coverage, limb by limb

Usage: evaluate.py DIR --branchkeep build/branchkeep [--seeds 0-119] [--jitter 1,2] [--eight-bit] [--display] [--jpeg 5,10,20]
                   [--jobs 2] [--json OUT.json] [--against BASE.json] [--bars]
Passes are called plain, jitter_2, eight_bit, display, jpeg_10, ...; the bars belong to jitter 2 and JPEG 10:1.
"""
import argparse
import glob
import io
import json
import os
import re
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import PIL.Image
import pydicom
from scipy.spatial import cKDTree

LIMBS = ("proximal", "distal", "side")
ANGLES = ("distal_side_deg", "proximal_side_deg", "proximal_distal_deg")
Z90 = 1.6449
LIMBS_WANTED = 300       # behind a figure of coverage
CLASSES = ((0.0, 0.5), (0.5, 1.0), (1.0, 2.0), (2.0, 3.5), (3.5, 9.0))


# ---------------------------------------------------------------- running the program
def run(options, path, clicks, wires=()):
    """(measurement or None, reason, seconds)"""
    command = [options.branchkeep, "measure", path, "--frame", "1"]
    for limb in LIMBS:
        command += [f"--{limb}", "{:.3f},{:.3f}".format(*clicks[limb])]
    for limb in wires:
        command += ["--wire-in", limb]
    start = time.time()
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=options.timeout, check=False)
    except subprocess.TimeoutExpired:
        return None, f"no answer within {options.timeout:g} s", options.timeout
    spent = time.time() - start
    if done.returncode != 0:
        lines = done.stderr.strip().splitlines()
        return None, f"exit {done.returncode}: {lines[-1] if lines else 'no message'}", spent
    try:
        return json.loads(done.stdout), "", spent
    except ValueError as fault:
        return None, f"stdout is not JSON: {fault}", spent


def eight_bit_copy(path, out):
    d = pydicom.dcmread(path)
    if d.BitsStored > 8:
        full = 2 ** d.BitsStored - 1
        d.PixelData = np.rint(d.pixel_array * (255.0 / full)).astype(np.uint8).tobytes()
        d.BitsAllocated, d.BitsStored, d.HighBit = 8, 8, 7
        d["PixelData"].VR = "OB"
    d.save_as(out)


def display_copy(path, out):
    """8 bit for the eye: log of the picture's own range, a gamma of 0.8 to 1.25 by seed, relation DISP. The program has to
    use edges then. No sharpening: what makers add there is not published."""
    d = pydicom.dcmread(path)
    log = np.log(np.maximum(d.pixel_array.astype(float), 1))
    low, high = np.percentile(log, [0.2, 99.8])
    gamma = 1.25 ** np.random.default_rng([4411, int(re.search(r"(\d+)", os.path.basename(path)).group(1))]).uniform(-1, 1)
    d.PixelData = np.rint(255 * np.clip((log - low) / (high - low), 0, 1) ** gamma).astype(np.uint8).tobytes()
    d.BitsAllocated, d.BitsStored, d.HighBit = 8, 8, 7
    d["PixelData"].VR = "OB"
    d.PixelIntensityRelationship = "DISP"
    d.save_as(out)


def jpeg_copy(path, out, ratio):
    """8 bit, then JPEG baseline at the finest quality that reaches the ratio. Returns (quality, ratio got).

    Not by dcmcjpeg: it stretches the grey values to min...max and relabels the intensity as DISP.
    """
    eight_bit_copy(path, out)
    d = pydicom.dcmread(out)
    picture = PIL.Image.fromarray(d.pixel_array)
    low, high, best = 5, 100, None
    while low <= high:
        quality = (low + high) // 2
        stream = io.BytesIO()
        picture.save(stream, format="JPEG", quality=quality, optimize=True)
        got = d.Rows * d.Columns / len(stream.getvalue())
        if got >= ratio:
            best, low = (quality, got, stream.getvalue()), quality + 1
        else:
            high = quality - 1
    if best is None:
        raise RuntimeError(f"{path}: no JPEG quality reaches {ratio}:1")
    d.PixelData = pydicom.encaps.encapsulate([best[2]])
    d["PixelData"].is_undefined_length = True
    d.file_meta.TransferSyntaxUID = pydicom.uid.JPEGBaseline8Bit
    d.LossyImageCompression, d.LossyImageCompressionRatio = "01", round(best[1], 2)
    d.LossyImageCompressionMethod = "ISO_10918_1"
    d.save_as(out)
    return best[:2]


def jittered(truth, radius_px, seed):
    """Clicks moved to a place drawn evenly from a disc."""
    rng = np.random.default_rng([9127, seed, truth["seed"]])
    clicks = {}
    for limb in LIMBS:
        r, a = radius_px * np.sqrt(rng.random()), rng.uniform(0, 2 * np.pi)
        clicks[limb] = [truth["clicks_px"][limb][0] + r * np.cos(a), truth["clicks_px"][limb][1] + r * np.sin(a)]
    return clicks


# ---------------------------------------------------------------- comparing with the truth
class Track:
    """The true limb, looked up by the nearest place in the image."""

    def __init__(self, profile):
        p = {k: np.array(v) for k, v in profile.items()}
        fine = np.arange(p["position_mm"][0], p["position_mm"][-1], 0.02)
        self.table = {k: np.interp(fine, p["position_mm"], v) for k, v in p.items()}
        self.tree = cKDTree(np.stack([self.table["x_px"], self.table["y_px"]], axis=1))

    def look(self, x, y):
        """Distance in px and the true values there."""
        far, at = self.tree.query(np.stack([np.atleast_1d(x), np.atleast_1d(y)], axis=1))
        return far, {k: v[at] for k, v in self.table.items()}


def value(q, what="value"):
    return np.nan if q is None or q.get(what) is None else float(q[what])


def limb_row(truth, measured, limb):
    """One limb of one phantom: every error the summary needs."""
    t, m = truth["segments"][limb], measured["segments"][limb]
    detail = t["lesion_detail"]
    row = {"seed": truth["seed"], "limb": limb, "true_mld": t["mld_mm"], "lesion_mm": detail and detail["axis_length_mm"],
           "ostial": bool(detail and detail["ostial"]), "eccentric_mm": detail["eccentric_mm"] if detail else 0.0,
           "wire": limb in truth["scene"]["wire_in_limb"], "crossings": len(truth["scene"]["crossings_px"]),
           "contrast_per_mm": truth["look"]["contrast_per_mm"], "photons": truth["look"]["photons"],
           "psf_fwhm_mm": truth["look"]["psf_fwhm_mm"] * truth["mm_per_px_branch"] / truth["geometry"]["imager_spacing_mm"][0],
           "psf_sigma_px": truth["look"]["psf_sigma_px"], "scatter": truth["look"]["scatter"], "bits": truth["look"]["bits"],
           "ribs": truth["scene"]["ribs"], "diaphragm": truth["scene"]["diaphragm"], "occluded": bool(m.get("occluded"))}
    if row["occluded"] or not np.isfinite(value(m["mld_mm"])):
        return dict(row, reason="called an occlusion" if row["occluded"] else "no MLD")
    p = m["profile"]
    at = m["mld_position_mm"]
    track = Track(t["profile"])
    x, y = (np.interp(at, p["position_mm"], p[k]) for k in ("x_px", "y_px"))
    _, here = track.look(x, y)
    used = measured["calibration"]["mm_per_px"]
    scale = float(here["mm_per_px"][0]) / used
    row.update(mld=value(m["mld_mm"]) * scale, mld_sd=value(m["mld_mm"], "sd") * scale, mld_as_is=value(m["mld_mm"]),
               ref_err=value(m["reference_mm"]) * scale - float(here["reference_mm"][0]),
               ref_sd=value(m["reference_mm"], "sd") * scale, ref_true=float(here["reference_mm"][0]),
               stenosis_err=value(m["stenosis_pct"]) - t["stenosis_pct"], stenosis_sd=value(m["stenosis_pct"], "sd"),
               place_err=float(here["position_mm"][0]) - t["mld_position_mm"])
    row["mld_err"] = row["mld"] - t["mld_mm"]
    if detail and detail["below_90_pct_mm"]:
        length = m.get("lesion_length_mm")
        row["length_sd"] = value(length, "sd") * truth["mm_per_px_branch"] / used
        row["length_err"] = value(length) * truth["mm_per_px_branch"] / used - float(np.diff(detail["below_90_pct_mm"])[0])
    far, along = track.look(p["x_px"], p["y_px"])
    keep = (along["position_mm"] > t["ostium_mm"]) & (along["position_mm"] < t["click_mm"])
    diameter = np.array([np.nan if d is None else d for d in p["diameter_mm"]], float)
    sd = np.array([np.nan if d is None else d for d in p["sd_mm"]], float)
    err = (diameter * along["mm_per_px"] / used - along["diameter_mm"])[keep]
    row["points"] = err[np.isfinite(err)].tolist()
    row["points_inside"] = (np.abs(err) <= Z90 * (sd * along["mm_per_px"] / used)[keep])[np.isfinite(err)].tolist()
    row["path_rms_mm"] = float(np.sqrt(np.mean((far[keep] * along["mm_per_px"][keep]) ** 2))) if keep.any() else np.nan
    return row


def phantom_row(truth, measured):
    """What belongs to the bifurcation as a whole."""
    b = np.array(measured["branch_point_px"]) - truth["branch_point_px"]
    angles = [value(measured["angles"][a]) - truth["angles"][a] for a in ANGLES]
    sd = [value(measured["angles"][a], "sd") for a in ANGLES]
    core = value(measured["core"]["diameter_mm"]) * truth["mm_per_px_branch"] / measured["calibration"]["mm_per_px"]
    return {"seed": truth["seed"], "branch_mm": float(np.hypot(*b) * truth["mm_per_px_branch"]), "angles_err": angles,
            "angles_sd": sd, "core_err": core - truth["core"]["diameter_mm"], "medina": measured["medina"],
            "medina_true": truth["medina"], "medina_margin": truth["medina_margin_pct"],
            "psf_px": measured["fit"].get("psf_px"), "mode": measured["fit"].get("mode"),
            "warnings": [w["code"] for w in measured["warnings"]]}


def one(options, path, truth, clicks):
    measured, reason, spent = run(options, path, clicks, truth["scene"]["wire_in_limb"] if options.say_wires else ())
    if measured is None:
        return {"seed": truth["seed"], "reason": reason, "seconds": spent}, []
    try:
        whole = dict(phantom_row(truth, measured), seconds=spent)
        return whole, [limb_row(truth, measured, limb) for limb in LIMBS]
    except (KeyError, TypeError, IndexError, ValueError) as fault:
        return {"seed": truth["seed"], "reason": f"answer is not as the contract says: {fault!r}", "seconds": spent}, []


def one_pass(options, cases, make_file=None, jitter=0.0):
    """Every phantom once. `make_file(path, out)` writes the variant that is measured instead."""
    def work(case):
        path, truth = case
        clicks = jittered(truth, jitter, 0) if jitter else truth["clicks_px"]
        if make_file is None:
            return one(options, path, truth, clicks)
        with tempfile.TemporaryDirectory() as folder:
            copy = os.path.join(folder, "copy.dcm")
            make_file(path, copy)
            return one(options, copy, truth, clicks)
    with ThreadPoolExecutor(options.jobs) as pool:
        done = list(pool.map(work, cases))
    return [d[0] for d in done], [row for d in done for row in d[1]]


# ---------------------------------------------------------------- summary
def column(rows, key):
    v = np.array([np.nan if r.get(key) is None else r.get(key, np.nan) for r in rows], float)
    return v[np.isfinite(v)]


def spread(v):
    v = np.asarray(v, float)
    v = v[np.isfinite(v)]
    if v.size == 0:
        return {"n": 0}
    return {"n": int(v.size), "bias": float(v.mean()), "sd": float(v.std(ddof=1)) if v.size > 1 else 0.0,
            "rms": float(np.sqrt(np.mean(v ** 2))), "median_abs": float(np.median(np.abs(v))), "max": float(np.abs(v).max())}


def covered(rows, err, sd):
    pair = np.array([[r.get(err, np.nan), r.get(sd, np.nan)] for r in rows], float).reshape(-1, 2)
    pair = pair[np.isfinite(pair).all(axis=1)]
    return float(np.mean(np.abs(pair[:, 0]) <= Z90 * pair[:, 1])) if len(pair) else None


def group(rows):
    """The figures of one class of limbs."""
    got = [r for r in rows if "mld" in r]
    out = {"limbs": len(rows), "measured": len(got), "mld": spread(column(got, "mld_err")),
           "mld_as_is": spread([r["mld_as_is"] - r["true_mld"] for r in got]),
           "reference": spread(column(got, "ref_err")), "stenosis_points": spread(column(got, "stenosis_err")),
           "lesion_length": spread(column(got, "length_err")), "mld_place": spread(column(got, "place_err")),
           "coverage": {"mld": covered(got, "mld_err", "mld_sd"), "reference": covered(got, "ref_err", "ref_sd"),
                        "stenosis": covered(got, "stenosis_err", "stenosis_sd"),
                        "lesion_length": covered(got, "length_err", "length_sd")},
           "points": spread([e for r in got for e in r["points"]]), "path_rms_mm": spread(column(got, "path_rms_mm"))}
    inside = [i for r in got for i in r["points_inside"]]
    out["coverage"]["points"] = float(np.mean(inside)) if inside else None
    if len(got) > 2:
        out["slope"] = float(np.polyfit([r["true_mld"] for r in got], [r["mld"] for r in got], 1)[0])
    return out


def in_bar(row):
    return bool(row["lesion_mm"] and row["lesion_mm"] >= 4.0 and not row["ostial"] and not row["wire"]
                and 0.5 <= row["true_mld"] <= 3.5)


def summarise(wholes, rows):
    plain = [r for r in rows if not r["wire"]]
    groups = {"lesions (the bar)": [r for r in rows if in_bar(r)]}
    for low, high in CLASSES[1:4]:
        groups[f"  {low:g}-{high:g} mm"] = [r for r in rows if in_bar(r) and low <= r["true_mld"] < high]
    groups["  eccentric"] = [r for r in rows if in_bar(r) and r["eccentric_mm"] > 0.1]
    groups["all limbs, no wire"] = plain
    for low, high in CLASSES:
        groups[f"  {low:g}-{high:g} mm "] = [r for r in plain if low <= r["true_mld"] < high]
    groups["no lesion"] = [r for r in plain if not r["lesion_mm"]]
    groups["ostial lesions"] = [r for r in plain if r["ostial"]]
    groups["wire in the limb"] = [r for r in rows if r["wire"]]
    answered = [w for w in wholes if "reason" not in w]
    clear = [w for w in answered if w["medina_margin"] > 5]
    angle_err = np.array([w["angles_err"] for w in answered], float).ravel()
    angle_sd = np.array([w["angles_sd"] for w in answered], float).ravel()
    known = np.isfinite(angle_err) & np.isfinite(angle_sd)
    return {"phantoms": len(wholes), "answered": len(answered), "groups": {k: group(v) for k, v in groups.items()},
            "medina": {"n": len(clear), "agree": float(np.mean([w["medina"] == w["medina_true"] for w in clear]))
                       if clear else None},
            "branch_point_rms_mm": spread([w["branch_mm"] for w in answered]).get("rms"),
            "branch_point_median_mm": spread([w["branch_mm"] for w in answered]).get("median_abs"),
            "angle": dict(spread(angle_err), coverage=float(np.mean(np.abs(angle_err[known]) <= Z90 * angle_sd[known]))
                          if known.any() else None),
            "core_mm": spread([w["core_err"] for w in answered]),
            "seconds_median": float(np.median([w["seconds"] for w in wholes]))}


def change(before, after):
    """MLD of the same limb in two passes: spread of the difference."""
    first = {(r["seed"], r["limb"]): r["mld"] for r in before if "mld" in r and in_bar(r)}
    return spread([r["mld"] - first[r["seed"], r["limb"]] for r in after
                   if "mld" in r and (r["seed"], r["limb"]) in first])


def bar(name, value, low, high):
    return {"bar": name, "value": value, "low": low, "high": high, "met": bool(value is not None and low <= value <= high)}


def judge(result):
    """The bars. A value that is missing misses its bar."""
    s = result["plain"]
    own, every = s["groups"]["lesions (the bar)"], s["groups"]["all limbs, no wire"]
    out = [bar("every limb of the bar measured", own["measured"], own["limbs"], own["limbs"]),
           bar("MLD bias, mm", own["mld"].get("bias"), -0.02, 0.02), bar("MLD SD, mm", own["mld"].get("sd"), 0, 0.05),
           bar("MLD slope", own.get("slope"), 0.98, 1.02),
           bar("reference bias at the same place, mm", own["reference"].get("bias"), -0.02, 0.02),
           bar("reference SD, mm", own["reference"].get("sd"), 0, 0.05),
           bar("stenosis SD, points", own["stenosis_points"].get("sd"), 0, 3),
           bar("Medina agreement", s["medina"]["agree"], 0.94, 1), bar("branch point RMS, mm", s["branch_point_rms_mm"], 0, 0.3),
           bar("angle SD, degrees", s["angle"].get("sd"), 0, 2),
           bar("limbs behind the coverage", every["measured"], LIMBS_WANTED, np.inf),
           bar("coverage of MLD, all limbs", every["coverage"]["mld"], 0.86, 0.94)]
    if "jitter_2" in result:
        out.append(bar("MLD moved by click jitter of 2 px, mm RMS", result["jitter_2_change"].get("rms"), 0, 0.02))
    for name in ("eight_bit", "jpeg_10"):
        if name in result:
            out += judge_variant(name, result[name], s)
    return out


def judge_variant(name, variant, base):
    lossy, own = variant["groups"]["lesions (the bar)"], base["groups"]["lesions (the bar)"]
    rise = lossy["mld"].get("rms", np.inf) - own["mld"].get("rms", np.inf)
    return [bar(f"{name}: every limb of the bar measured", lossy["measured"], own["limbs"], own["limbs"]),
            bar(f"{name}: rise of the MLD RMS, mm", rise, -np.inf, 0.02),
            bar(f"{name}: coverage of MLD, all limbs", variant["groups"]["all limbs, no wire"]["coverage"]["mld"], 0.82, 1)]


def watch(result):
    """Intervals that have no bar of their own but ought to hold the truth as often."""
    every = result["plain"]["groups"]["all limbs, no wire"]["coverage"]
    return [bar(f"coverage of {name}", value, 0.86, 0.94) for name, value in
            (("reference", every["reference"]), ("stenosis", every["stenosis"]), ("diameters along the limbs", every["points"]),
             ("lesion length", every["lesion_length"]), ("angles", result["plain"]["angle"]["coverage"]))]


def against(options, result, rows):
    """Hold the plain pass against the one in another file, over the seeds both have."""
    with open(options.against, encoding="ascii") as f:
        base = json.load(f)
    seeds = {r["seed"] for r in rows}
    wholes = [w for w in base["rows"]["plain"]["phantoms"] if w["seed"] in seeds]
    before = [r for r in base["rows"]["plain"]["limbs"] if r["seed"] in seeds]
    result["against"] = {"file": os.path.basename(options.against), "base": summarise(wholes, before), "change": change(before, rows)}
    return judge_variant("against the base", result["plain"], result["against"]["base"])


# ---------------------------------------------------------------- printing
def show(name, s):
    def num(d, key, form):
        return format(d[key], form) if d.get("n") else "-"

    def share(v):
        return "-" if v is None else f"{100 * v:.0f}"
    print(f"\n== {name}: {s['answered']} of {s['phantoms']} phantoms answered, "
          f"median {1000 * s['seconds_median']:.0f} ms for the whole program")
    print(f"{'class by true MLD':<22}{'limbs':>6}  {'MLD bias':>8} {'SD':>6} {'RMS':>6} {'max':>5} {'slope':>6}  {'as is':>14}"
          f"  {'ref bias':>8} {'SD':>6}  {'%DS bias':>8} {'SD':>5}   cover MLD/ref/%DS/points")
    for label, g in s["groups"].items():
        m, a, r, d, c = g["mld"], g["mld_as_is"], g["reference"], g["stenosis_points"], g["coverage"]
        as_is = f"{num(a, 'bias', '+.3f')} {num(a, 'sd', '.3f')}"
        cover = " ".join(f"{share(c[k]):>4}" for k in ("mld", "reference", "stenosis", "points"))
        slope = format(g["slope"], ".3f") if "slope" in g else "-"
        print(f"{label:<22}{g['measured']:>3}/{g['limbs']:<3} {num(m, 'bias', '+8.3f'):>8} {num(m, 'sd', '.3f'):>6} "
              f"{num(m, 'rms', '.3f'):>6} {num(m, 'max', '.2f'):>5} {slope:>6}  {as_is:>14}  "
              f"{num(r, 'bias', '+.3f'):>8} {num(r, 'sd', '.3f'):>6}  {num(d, 'bias', '+.1f'):>8} {num(d, 'sd', '.1f'):>5}  {cover}")
    every = s["groups"]["all limbs, no wire"]
    print(f"pointwise diameter {num(every['points'], 'bias', '+.3f')} / {num(every['points'], 'sd', '.3f')} mm; path "
          f"{num(every['path_rms_mm'], 'rms', '.3f')} mm RMS, median {num(every['path_rms_mm'], 'median_abs', '.3f')}; lesion length (below 90 % of reference) "
          f"{num(every['lesion_length'], 'bias', '+.2f')} / {num(every['lesion_length'], 'sd', '.2f')} mm")
    if s["answered"]:
        print(f"branch point {s['branch_point_rms_mm']:.3f} mm RMS, median {s['branch_point_median_mm']:.3f}; angles {s['angle']['bias']:+.2f} / {s['angle']['sd']:.2f} deg, "
              f"cover {share(s['angle']['coverage'])}; core {num(s['core_mm'], 'bias', '+.3f')} / {num(s['core_mm'], 'sd', '.3f')} mm; "
              f"Medina {share(s['medina']['agree'])} % of {s['medina']['n']} more than 5 points from the threshold")


def show_faults(wholes, rows):
    for w in wholes:
        if "reason" in w:
            print(f"  failed: seed {w['seed']}: {w['reason']}")
    for r in rows:
        if "reason" in r:
            print(f"  failed: seed {r['seed']} {r['limb']}: {r['reason']} (true MLD {r['true_mld']:.2f} mm)")
    worst = sorted((r for r in rows if "mld" in r and in_bar(r)), key=lambda r: -abs(r["mld_err"]))[:8]
    print("  worst MLD of the bar: " + "; ".join(
        f"seed {r['seed']} {r['limb']} {r['true_mld']:.2f} {r['mld_err']:+.3f} (sd {r['mld_sd']:.3f}, "
        f"{r['place_err']:+.1f} mm along)" for r in worst))
    off = sorted((w for w in wholes if "reason" not in w), key=lambda w: -w["branch_mm"])[:6]
    print("  worst branch points: " + "; ".join(
        f"seed {w['seed']} {w['branch_mm']:.2f} mm, angles {' '.join(f'{a:+.0f}' for a in w['angles_err'])}" for w in off))


def show_bars(title, bars):
    print(f"\n== {title}")
    for b in bars:
        got = "none" if b["value"] is None else f"{b['value']:.4g}"
        print(f"  {'met   ' if b['met'] else 'MISSED'} {b['bar']}: {got} (wanted {b['low']:.4g} to {b['high']:.4g})")


def numbers(text):
    return [float(v) for v in text.split(",")]


def parse(argv):
    p = argparse.ArgumentParser(description="Accuracy of `branchkeep measure` on phantoms with known truth.")
    p.add_argument("folder")
    p.add_argument("--branchkeep", default="build/branchkeep")
    p.add_argument("--seeds", help="FIRST-LAST; every phantom of the folder when not given")
    p.add_argument("--jitter", type=numbers, default=[], help="also with clicks moved within these radii, px")
    p.add_argument("--eight-bit", action="store_true", help="also as 8-bit copies")
    p.add_argument("--say-wires", action="store_true", help="tell measure in which limbs a wire lies")
    p.add_argument("--display", action="store_true", help="also as 8-bit copies that are not linear: edges, not densities")
    p.add_argument("--jpeg", type=numbers, default=[], metavar="RATIOS", help="also as 8-bit copies in JPEG baseline")
    p.add_argument("--jobs", type=int, default=2)
    p.add_argument("--timeout", type=float, default=60.0)
    p.add_argument("--json", help="write every figure and every limb to this file")
    p.add_argument("--against", metavar="BASE.json", help="hold the result against an earlier one, limb by limb")
    p.add_argument("--bars", action="store_true", help="exit 1 when a bar is missed")
    return p.parse_args(argv)


def cases_of(options):
    first, last = 0, 10 ** 9
    if options.seeds:
        first, last = (int(v) for v in (options.seeds.split("-") * 2)[:2])
    found = []
    for path in sorted(glob.glob(os.path.join(options.folder, "seed*.dcm"))):
        match = re.fullmatch(r"seed(\d+)\.dcm", os.path.basename(path))
        if match and first <= int(match.group(1)) <= last:
            with open(path[:-4] + ".json", encoding="ascii") as f:
                found.append((path, json.load(f)))
    return found


def main(argv=None):
    options = parse(argv)
    cases = cases_of(options)
    if not cases:
        print(f"evaluate: no seedNNNN.dcm in {options.folder}, expected phantoms of independent_phantom.py", file=sys.stderr)
        return 2
    passes = {"plain": one_pass(options, cases)}
    for radius in options.jitter:
        passes[f"jitter_{radius:g}"] = one_pass(options, cases, jitter=radius)
    if options.eight_bit:
        passes["eight_bit"] = one_pass(options, cases, eight_bit_copy)
    if options.display:
        passes["display"] = one_pass(options, cases, display_copy)
    for ratio in options.jpeg:
        passes[f"jpeg_{ratio:g}"] = one_pass(options, cases, lambda path, out, ratio=ratio: jpeg_copy(path, out, ratio))
    result = {name: summarise(*p) for name, p in passes.items()}
    for name in list(result)[1:]:
        result[name + "_change"] = change(passes["plain"][1], passes[name][1])
    result["bars"] = against(options, result, passes["plain"][1]) if options.against else judge(result)
    result["watched"] = watch(result)
    for name, p in passes.items():
        show(name, result[name])
        show_faults(*p)
    show_bars("bars", result["bars"])
    show_bars("watched, no bar", result["watched"])
    if options.json:
        with open(options.json, "w", encoding="ascii") as f:
            json.dump(dict(result, rows={k: {"phantoms": p[0], "limbs": p[1]} for k, p in passes.items()}), f, default=str)
    return 1 if options.bars and not all(b["met"] for b in result["bars"]) else 0


if __name__ == "__main__":
    sys.exit(main())
