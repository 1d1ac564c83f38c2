#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""How good is `branchkeep rebuild` on pairs of digital angiograms whose truth in space is known?

Reads what independent_pairs.py wrote, runs `measure` on both views (clicks of the truth) and `rebuild` on the two answers.

  place         the rebuilt axes are laid over the true ones by the one translation that brings them nearest (the component of the
                shift in the plane of the beams cannot be known and moves the whole); nothing is turned or scaled
  length        length_mm less the true arc length from the branch point to the true point nearest to the rebuilt end; the bar is for
                30 mm: error times 30 / length
  reference     compared at the place where the program reports its MLD
  foreshortening  as seen in the picture: across the ray through each place, over the true limb as far as the rebuilt end
  shift         |fit.shift_mm| against the true component along d1 x d2
  coverage      share of |rebuilt - true| <= 1.645 sd

Where `measure` puts the branch point more than 1 mm off in a view, figures without that pair stand beside (not for the bars).
All limbs count for the bars: ostial lesions and sound limbs too. --defect puts something wrong into every pair instead and counts how
often it is refused or named: `sign` (primary angle of view 2), `swap` (distal and side clicked in exchange), `stage`, `phase`,
`patient`, `other` (view 2 of the next seed).

Usage: evaluate_space.py DIR --branchkeep build/branchkeep [--seeds 0-59] [--jobs 2] [--json OUT.json] [--bars] [--defect KIND]
"""
import argparse
import glob
import json
import os
import re
import subprocess
import sys
import tempfile
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from scipy.spatial import cKDTree

import independent_phantom as ph
from evaluate import ANGLES, LIMBS, LIMBS_WANTED, bar, covered, show_bars, spread, value

FINE_MM = 0.02
MISPLACED_MM = 1.0                    # a branch point this far off in one view: what follows is not the fault of `rebuild`
HARMLESS = {"phase_unknown"}          # single frames without an ECG: said of every pair
DEFECTS = ("sign", "swap", "stage", "phase", "patient", "other")


# ---------------------------------------------------------------- running the program
def call(options, words):
    """(answer or None, reason)"""
    try:
        done = subprocess.run([options.branchkeep] + words, capture_output=True, text=True, timeout=120, check=False)
        if done.returncode == 0:
            return json.loads(done.stdout), ""
    except (subprocess.TimeoutExpired, ValueError) as fault:
        return None, f"{words[0]}: {fault}"
    lines = done.stderr.strip().splitlines()
    return None, f"{words[0]}: exit {done.returncode}: {lines[-1] if lines else 'no message'}"


def measure(options, stem, defect):
    """One view; `defect` None for sound ones."""
    with open(stem + ".json", encoding="ascii") as f:
        clicks = json.load(f)["clicks_px"]
    if defect == "swap":
        clicks["distal"], clicks["side"] = clicks["side"], clicks["distal"]
    words = ["measure", stem + ".dcm", "--frame", "1", "--stage", "final" if defect == "stage" else "baseline"]
    for limb in LIMBS:
        words += [f"--{limb}", "{:.3f},{:.3f}".format(*clicks[limb])]
    m, reason = call(options, words)
    if m is not None and defect == "sign":
        m["geometry"]["primary_deg"] *= -1
    if m is not None and defect == "patient":
        m["source"]["patient_hash"] = "0" * 64
    return m, reason


def rebuild(options, stem, other_stem):
    """(solid or None, reason, the two measurements)"""
    pair = []
    for path, defect in ((stem + "a", None), (other_stem + "b", options.defect)):
        m, reason = measure(options, path, defect)
        if m is None:
            return None, f"view {path[-1]}: {reason}", pair
        pair.append(m)
    if options.defect == "phase":
        pair[0]["source"]["phase_pct"], pair[1]["source"]["phase_pct"] = 70, 30
    with tempfile.TemporaryDirectory() as folder:
        names = [os.path.join(folder, f"m{k}.json") for k in (1, 2)]
        for name, m in zip(names, pair):
            with open(name, "w", encoding="ascii") as f:
                json.dump(m, f)
        return call(options, ["rebuild"] + names) + (pair,)


# ---------------------------------------------------------------- comparing with the truth
class Axis:
    """A true limb every FINE_MM of its length."""

    def __init__(self, segment):
        s, points = np.array(segment["position_mm"]), np.array(segment["points_mm"])
        self.s = np.arange(s[0], s[-1], FINE_MM)
        self.points = np.stack([np.interp(self.s, s, points[:, i]) for i in range(3)], axis=1)
        self.reference = np.interp(self.s, s, segment["reference_along_mm"])
        self.tree = cKDTree(self.points)

    def short_pct(self, view, shift, upto_mm):
        p = self.points[: max(int(upto_mm / FINE_MM), 2)] + shift
        step, ray = np.diff(p, axis=0), p[:-1] - view.source
        ray /= np.linalg.norm(ray, axis=1, keepdims=True)
        return 100 * (1 - np.linalg.norm(np.cross(step, ray), axis=1).sum() / np.linalg.norm(step, axis=1).sum())


def laid_over(rebuilt, axes):
    """The translation that brings the rebuilt points nearest to the true axes, limb by limb; starts at the branch points."""
    move = axes["distal"].points[0] - rebuilt["distal"][0]
    for _ in range(200):
        gap = np.concatenate([axes[n].points[axes[n].tree.query(rebuilt[n] + move)[1]] - rebuilt[n] - move for n in LIMBS])
        move = move + gap.mean(axis=0)
        if np.linalg.norm(gap.mean(axis=0)) < 1e-4:
            break
    return move, np.linalg.norm(gap, axis=1)


def truths_in_images(stem):
    out = []
    for letter in "ab":
        with open(f"{stem}{letter}.json", encoding="ascii") as f:
            out.append(json.load(f))
    return out


def views_of(truths):
    out = []
    for t in truths:
        g = t["geometry"]
        out.append(ph.View(g["primary_deg"], g["secondary_deg"], g["sid_mm"], g["sod_mm"], g["imager_spacing_mm"][0], t["rows"]))
    return out


def branch_off(truths, pair):
    """How far `measure` put the branch point from the true one in each view, mm."""
    return [float(np.linalg.norm(np.array(m["branch_point_px"]) - t["branch_point_px"]) * t["mm_per_px_branch"]) for t, m in zip(truths, pair)]


def compare(stem, truth, solid, pair):
    """(what belongs to the pair, one row a limb)"""
    axes = {n: Axis(truth["segments"][n]) for n in LIMBS}
    rebuilt = {n: np.array(solid["segments"][n]["points_mm"], float) for n in LIMBS}
    move, gap = laid_over(rebuilt, axes)
    truths = truths_in_images(stem)
    views, rows = views_of(truths), []
    for n in LIMBS:
        t, m, axis = truth["segments"][n], solid["segments"][n], axes[n]
        end = float(axis.s[axis.tree.query(rebuilt[n][-1] + move)[1]])
        row = {"seed": truth["seed"], "limb": n, "true_length": end, "length_err": value(m["length_mm"]) - end, "length_sd": value(m["length_mm"], "sd"),
               "wanted_length": t["length_mm"], "true_mld": t["mld_mm"], "ostial": bool(t["lesion"] and t["lesion"]["ostial"]), "lesion": bool(t["lesion"])}
        row["length_err_30"] = row["length_err"] * 30 / end
        for key, name in (("mld_mm", "mld"), ("stenosis_pct", "stenosis"), ("area_stenosis_pct", "area")):
            row[name + "_err"], row[name + "_sd"] = value(m[key]) - t[key], value(m[key], "sd")
        reported = m["mld_position_mm"] if m.get("mld_position_mm") is not None else t["mld_position_mm"]
        arc = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(rebuilt[n], axis=0), axis=1))])
        place = np.array([np.interp(reported, arc, rebuilt[n][:, i]) for i in range(3)])
        k = axis.tree.query(place + move)[1]
        row.update(ref_err=value(m["reference_mm"]) - float(axis.reference[k]), ref_sd=value(m["reference_mm"], "sd"),
                   place_err=float(axis.s[k]) - t["mld_position_mm"])
        for v in (0, 1):
            true = axis.short_pct(views[v], np.array(truth["shift_mm"]) * v, end)
            row[f"short_{v + 1}"], row[f"short_err_{v + 1}"] = true, solid["foreshortening_pct"][f"view{v + 1}"][n] - true
        rows.append(row)
    whole = {"seed": truth["seed"], "rms_mm": float(np.sqrt(np.mean(gap ** 2))), "apart_deg": truth["view_separation_deg"],
             "apart_err": solid["fit"]["view_separation_deg"] - truth["view_separation_deg"], "shift_mm": float(np.linalg.norm(truth["shift_mm"])),
             "across_mm": truth["shift_across_mm"], "across_err": abs(solid["fit"]["shift_mm"]) - abs(truth["shift_across_mm"]),
             "rms_px": solid["fit"]["rms_px"], "branch_mm": branch_off(truths, pair), "warnings": [w["code"] for w in solid["warnings"]]}
    for a in ANGLES:
        whole[a + "_err"], whole[a + "_sd"] = value(solid["angles"][a]) - truth["angles"][a], value(solid["angles"][a], "sd")
    return whole, rows


def one(options, case, other):
    stem, truth = case
    solid, reason, pair = rebuild(options, stem, other)
    if solid is None:
        return {"seed": truth["seed"], "reason": reason}, []
    if options.defect:
        return {"seed": truth["seed"], "warnings": [w["code"] for w in solid["warnings"]]}, []
    try:
        return compare(stem, truth, solid, pair)
    except (KeyError, TypeError, IndexError, ValueError) as fault:
        return {"seed": truth["seed"], "reason": f"answer is not as the contract says: {fault!r}"}, []


# ---------------------------------------------------------------- summary
def figures(rows, key, sd=None):
    out = spread([r.get(key, np.nan) for r in rows])
    if sd:
        out["coverage"] = covered(rows, key, sd)
    return out


def summarise(wholes, rows):
    misplaced = {w["seed"] for w in wholes if max(w.get("branch_mm", [0])) > MISPLACED_MM}
    angle_rows = [{"seed": w["seed"], "err": w[a + "_err"], "sd": w[a + "_sd"]} for w in wholes if "reason" not in w for a in ANGLES]
    groups = {"all limbs": rows, "  lesions not ostial": [r for r in rows if r["lesion"] and not r["ostial"]],
              "  ostial lesions": [r for r in rows if r["ostial"]], "  no lesion": [r for r in rows if not r["lesion"]],
              "  branch point right in both views": [r for r in rows if r["seed"] not in misplaced]}
    out = {"pairs": len(wholes), "answered": len([w for w in wholes if "reason" not in w]), "groups": {}}
    for label, g in groups.items():
        out["groups"][label] = {
            "limbs": len(g), "length": dict(figures(g, "length_err_30"), coverage=covered(g, "length_err", "length_sd")),
            "mld": figures(g, "mld_err", "mld_sd"), "reference": figures(g, "ref_err", "ref_sd"),
            "stenosis": figures(g, "stenosis_err", "stenosis_sd"), "area": figures(g, "area_err", "area_sd"),
            "short": spread([r[f"short_err_{v}"] for r in g for v in (1, 2)])}
    short = np.abs([r[f"short_err_{v}"] for r in rows for v in (1, 2)])
    out["angle"] = figures(angle_rows, "err", "sd")
    out["angle_branch_right"] = figures([r for r in angle_rows if r["seed"] not in misplaced], "err", "sd")
    out["branch_mm"] = spread([b for w in wholes for b in w.get("branch_mm", [])])
    out["each_angle"] = {a: figures(wholes, a + "_err", a + "_sd") for a in ANGLES}
    out["short_within_1"] = float(np.mean(short <= 1)) if short.size else None
    out["shape_rms_mm"] = spread([w.get("rms_mm", np.nan) for w in wholes])
    out["shift"] = spread([w.get("across_err", np.nan) for w in wholes])
    out["warnings"] = Counter(c for w in wholes for c in w.get("warnings", []))
    return out


def judge(s):
    """The bars of two views. A value that is missing misses its bar."""
    g = s["groups"]["all limbs"]
    out = [bar("every pair answered", s["answered"], s["pairs"], s["pairs"]),
           bar("length SD, mm per 30 mm", g["length"].get("sd"), 0, 0.4), bar("length bias, mm per 30 mm", g["length"].get("bias"), -0.3, 0.3),
           bar("angle SD, degrees", s["angle"].get("sd"), 0, 2.5), bar("angle bias, degrees", s["angle"].get("bias"), -1.5, 1.5),
           bar("MLD SD, mm", g["mld"].get("sd"), 0, 0.08), bar("MLD bias, mm", g["mld"].get("bias"), -0.03, 0.03),
           bar("area stenosis SD, points", g["area"].get("sd"), 0, 4), bar("foreshortening RMS, points", g["short"].get("rms"), 0, 1),
           bar("limbs behind the coverage", g["limbs"], LIMBS_WANTED, np.inf), bar("coverage of angles", s["angle"].get("coverage"), 0.86, 0.94)]
    return out + [bar(f"coverage of {k}", g[k]["coverage"], 0.86, 0.94) for k in ("length", "mld", "reference", "stenosis", "area")]


# ---------------------------------------------------------------- printing
def text(d, digits):
    if not d.get("n"):
        return "-"
    cover = "" if d.get("coverage") is None else f" ({100 * d['coverage']:.0f} %)"
    return f"{d['bias']:+.{digits}f} +- {d['sd']:.{digits}f}, max {d['max']:.{digits}f}{cover}"


def show(s, wholes, rows):
    print(f"== {s['answered']} of {s['pairs']} pairs answered; bias +- SD, greatest error (share within the 90 % interval)")
    for label, g in s["groups"].items():
        print(f"{label} ({g['limbs']})\n    length per 30 mm {text(g['length'], 2)} mm; MLD {text(g['mld'], 3)} mm; reference {text(g['reference'], 3)} mm\n"
              f"    stenosis {text(g['stenosis'], 1)} points; area stenosis {text(g['area'], 1)} points; foreshortening {text(g['short'], 2)} points")
    print(f"angles {text(s['angle'], 2)} degrees; " + "; ".join(f"{a[:-4]} {text(v, 2)}" for a, v in s["each_angle"].items()))
    print(f"branch point of `measure` in the views {text(s['branch_mm'], 2)} mm; angles where it is within {MISPLACED_MM:g} mm in both {text(s['angle_branch_right'], 2)}")
    within = s["short_within_1"]
    print(f"shape {text(s['shape_rms_mm'], 3)} mm RMS after a translation; shift across {text(s['shift'], 2)} mm; foreshortening within 1 point "
          + ("-" if within is None else f"{100 * within:.0f} %"))
    print("warnings: " + (", ".join(f"{k} {n}" for k, n in s["warnings"].most_common()) or "none"))
    show_outliers(wholes, rows)


def show_outliers(wholes, rows):
    for w in wholes:
        if "reason" in w:
            print(f"  failed: seed {w['seed']}: {w['reason']}")
        elif set(w["warnings"]) - HARMLESS:
            print(f"  warned: seed {w['seed']}: {', '.join(sorted(set(w['warnings']) - HARMLESS))} (moved {w['shift_mm']:.1f} mm, across {w['across_mm']:+.1f})")
    for name, key, sd, digits in (("length per 30 mm", "length_err_30", None, 2), ("MLD", "mld_err", "mld_sd", 3), ("area stenosis", "area_err", "area_sd", 1),
                                  ("reference", "ref_err", "ref_sd", 3)):
        worst = sorted((r for r in rows if np.isfinite(r[key])), key=lambda r: -abs(r[key]))[:6]
        print(f"  worst {name}: " + "; ".join(f"seed {r['seed']} {r['limb']} {r[key]:+.{digits}f}" + (f" (sd {r[sd]:.{digits}f})" if sd else
              f" (of {r['true_length']:.0f} mm)") + (f" true MLD {r['true_mld']:.2f}, {r['place_err']:+.1f} mm along" if name == "MLD" else "") for r in worst))
    good = [w for w in wholes if "reason" not in w]
    worst = sorted(good, key=lambda w: -max(abs(w[a + "_err"]) for a in ANGLES))[:6]
    print("  worst angles: " + "; ".join(f"seed {w['seed']} " + " ".join(f"{w[a + '_err']:+.1f}" for a in ANGLES)
          + " (branch points " + " and ".join(f"{b:.1f}" for b in w["branch_mm"]) + " mm off)" for w in worst))
    worst = sorted(good, key=lambda w: -w["rms_mm"])[:6]
    print("  worst shapes: " + "; ".join(f"seed {w['seed']} {w['rms_mm']:.2f} mm (views {w['apart_deg']:.0f} degrees apart)" for w in worst))


def show_defect(kind, wholes):
    """Returns the number of pairs in which nothing was said."""
    refused = [w for w in wholes if "reason" in w]
    silent = [w["seed"] for w in wholes if "reason" not in w and not set(w["warnings"]) - HARMLESS]
    print(f"== {kind}: {len(wholes)} pairs, {len(refused)} refused, {len(wholes) - len(refused) - len(silent)} warned, {len(silent)} silent {silent}")
    print("  warnings: " + ", ".join(f"{k} {n}" for k, n in Counter(c for w in wholes for c in set(w.get("warnings", []))).most_common()))
    for reason, n in Counter(re.sub(r"\d+", "N", w["reason"]) for w in refused).most_common(5):
        print(f"  {n} x {reason}")
    return len(silent)


def cases_of(options):
    first, last = (int(v) for v in (options.seeds.split("-") * 2)[:2]) if options.seeds else (0, 10 ** 9)
    found = []
    for path in sorted(glob.glob(os.path.join(options.folder, "seed*.json"))):
        match = re.fullmatch(r"seed(\d+)\.json", os.path.basename(path))
        if match and first <= int(match.group(1)) <= last:
            with open(path, encoding="ascii") as f:
                found.append((path[:-5], json.load(f)))
    return found


def main(argv=None):
    p = argparse.ArgumentParser(description="Accuracy of `branchkeep rebuild` on pairs of views with known truth.")
    p.add_argument("folder")
    p.add_argument("--branchkeep", default="build/branchkeep")
    p.add_argument("--seeds", help="FIRST-LAST; every pair of the folder when not given")
    p.add_argument("--jobs", type=int, default=2)
    p.add_argument("--json", help="write every figure, pair and limb to this file")
    p.add_argument("--bars", action="store_true", help="exit 1 when a bar is missed (with --defect: when a pair passes in silence)")
    p.add_argument("--defect", choices=DEFECTS, help="put this wrong into every pair and count what is noticed")
    options = p.parse_args(argv)
    cases = cases_of(options)
    if not cases:
        print(f"evaluate_space: no pairs in {options.folder}, expected seedNNNN.json of independent_pairs.py", file=sys.stderr)
        return 2
    others = [c[0] for c in cases[1:] + cases[:1]] if options.defect == "other" else [c[0] for c in cases]
    with ThreadPoolExecutor(options.jobs) as pool:
        done = list(pool.map(lambda pair: one(options, *pair), zip(cases, others)))
    wholes, rows = [d[0] for d in done], [r for d in done for r in d[1]]
    if options.defect:
        return 1 if show_defect(options.defect, wholes) and options.bars else 0
    result = summarise(wholes, rows)
    bars = judge(result)
    show(result, wholes, rows)
    show_bars("bars", bars)
    if options.json:
        with open(options.json, "w", encoding="ascii") as f:
            json.dump(dict(result, bars=bars, rows={"pairs": wholes, "limbs": rows}), f, default=str)
    return 1 if options.bars and not all(b["met"] for b in bars) else 0


if __name__ == "__main__":
    sys.exit(main())
