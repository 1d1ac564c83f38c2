#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Accuracy tables and plots from what evaluate.py wrote.

  tables  OUT/lumen-accuracy.md    diameter, length of lesion, noise, density, blur, scatter, background, 8 bit and JPEG,
                                   click jitter, ostial lesions, wire; what the intervals hold
  plots   OUT/lumen-error.png      error over true diameter, with the interval of each limb
          OUT/lumen-intervals.png  share of limbs within k SD against what a normal distribution promises
          OUT/lumen-classes.png    bias and SD by class
          OUT/lumen-variants.png   RMS error and coverage as the picture gets worse

Usage: classes.py ACCURACY.json --short SHORT.json --out docs/methods     (SHORT: phantoms with lesions of 3 mm)
"""
import argparse
import io
import json
import math
import os
import sys

import matplotlib
import numpy as np
import PIL.Image

matplotlib.use("Agg")
import matplotlib.pyplot as plt  # noqa: E402

from evaluate import Z90, in_bar  # noqa: E402

INK, LEAD, SOFT = "#222222", "#1f5f8b", "#c8d6e0"
plt.rcParams.update({"font.size": 8, "axes.spines.top": False, "axes.spines.right": False, "axes.edgecolor": INK,
                     "savefig.dpi": 90, "figure.constrained_layout.use": True})


def clean(r):
    """No wire in the limb: the classes are about something else."""
    return "mld" in r and not r["wire"]


def figures(rows):
    """n, bias, SD, RMS of the MLD; reference and stenosis SD; coverages."""
    rows = [r for r in rows if "mld" in r]
    out = {"n": len(rows)}
    if not rows:
        return out
    e = np.array([r["mld_err"] for r in rows])
    out.update(bias=e.mean(), sd=e.std(ddof=1) if len(e) > 1 else 0.0, rms=np.sqrt(np.mean(e ** 2)))
    for name, key in (("ref", "ref_err"), ("ds", "stenosis_err")):
        v = np.array([r[key] for r in rows if r.get(key) is not None and np.isfinite(r[key])])
        out[name + "_sd"] = v.std(ddof=1) if len(v) > 1 else np.nan
    out["hold"] = float(np.mean(np.abs(e) <= Z90 * np.array([r["mld_sd"] for r in rows])))
    return out


def row_text(name, f):
    if not f["n"]:
        return f"| {name} | 0 | - | - | - | - | - |"
    share = (f["hold"] * f["n"] + 1) / (f["n"] + 2)  # so that 100 % of a few is not certain
    slack = 100 * Z90 * math.sqrt(share * (1 - share) / f["n"])
    ref, ds = (format(v, form) if np.isfinite(v) else "-" for v, form in ((f["ref_sd"], ".3f"), (f["ds_sd"], ".1f")))
    return (f"| {name} | {f['n']} | {f['bias']:+.3f} / {f['sd']:.3f} | {f['rms']:.3f} | {ref} | {ds} | "
            f"{100 * f['hold']:.0f} (±{slack:.0f}) |")


HEAD = "| class | limbs | MLD bias / SD, mm | RMS, mm | reference SD, mm | stenosis SD, points | 90 % interval holds, % |\n|---|---|---|---|---|---|---|"


def table(title, note, classes):
    """classes: (name, rows) in order. Returns markdown and the figures."""
    got = [(name, figures(rows)) for name, rows in classes]
    lines = [f"## {title}"] + ([note] if note else []) + ["", HEAD] + [row_text(*g) for g in got] + [""]
    return "\n".join(lines), got


def between(rows, key, edges, form):
    """Classes of rows by a quantity cut at edges."""
    out = []
    for low, high in zip(edges[:-1], edges[1:]):
        name = f"under {form.format(high)}" if low == -np.inf else f"over {form.format(low)}" if high == np.inf else \
            f"{form.format(low)} to {form.format(high)}"
        out.append((name, [r for r in rows if low <= r[key] < high]))
    return out


def background(rows):
    kinds = (("no ribs, no diaphragm", lambda r: not r["ribs"] and not r["diaphragm"]), ("ribs", lambda r: r["ribs"] and not r["diaphragm"]),
             ("diaphragm edge", lambda r: r["diaphragm"] and not r["ribs"]), ("ribs and diaphragm", lambda r: r["ribs"] and r["diaphragm"]))
    out = [(name, [r for r in rows if f(r)]) for name, f in kinds]
    return out + [("nothing crosses in the picture", [r for r in rows if not r["crossings"]]), ("vessels cross in the picture", [r for r in rows if r["crossings"]])]


def own_tables(rows, short):
    """(key, title, note, classes) of everything but the variants."""
    bar, every = [r for r in rows if "mld" in r and in_bar(r)], [r for r in rows if clean(r)]
    big = ((0, 0.5), (0.5, 1), (1, 2), (2, 3), (3, 9))

    def sized(source):
        return [(f"{low:g} to {high:g} mm" if high < 9 else "over 3 mm", [r for r in source if low <= r["true_mld"] < high]) for low, high in big]
    lesions = [r for r in every if r["lesion_mm"] and not r["ostial"]]
    lengths = [("3 mm", [r for r in short if clean(r) and r["lesion_mm"] and not r["ostial"]])] + between(lesions, "lesion_mm", [4, 6, 9, np.inf], "{:g} mm")
    kinds = [("limbs of the bar", bar), ("of these eccentric", [r for r in bar if r["eccentric_mm"] > 0.1]),
             ("ostial lesion", [r for r in every if r["ostial"]]),
             ("no lesion", [r for r in every if not r["lesion_mm"]]), ("all limbs without a wire", every),
             ("wire in the limb", [r for r in rows if "mld" in r and r["wire"]])]
    note = "Limbs of the bar."
    return [("kind", "By what the limb holds", "", kinds),
            ("diameter", "By true minimal diameter", "Limbs of the bar (0.5 to 3.5 mm).", sized(bar)[1:]),
            ("diameter_all", "By true minimal diameter, all limbs", "With or without a lesion, no wire.", sized(every)),
            ("length", "By length of the lesion", "Not ostial, any diameter; lesions of 3 mm come from phantoms of their own.", lengths),
            ("noise", "By noise", "Photons a pixel. " + note, between(bar, "photons", [-np.inf, 1200, 2000, 3200, np.inf], "{:g}")),
            ("density", "By contrast density", "Of the blood, per mm. " + note, between(bar, "contrast_per_mm", [-np.inf, 0.15, 0.20, 0.25, np.inf], "{:.2f}")),
            ("blur", "By blur", "Full width at half maximum at the vessel, mm. " + note, between(bar, "psf_fwhm_mm", [-np.inf, 0.20, 0.24, 0.28, np.inf], "{:.2f}")),
            ("scatter", "By scatter", "Share of the signal; the fit starts from 0.12. " + note, between(bar, "scatter", [-np.inf, 0.12, 0.20, np.inf], "{:.2f}")),
            ("bits", "By bit depth", note, [(f"{b} bits", [r for r in bar if r["bits"] == b]) for b in (8, 10, 12)]),
            ("background", "By background", note, background(bar))]


ORDER = (("plain", "as made"), ("eight_bit", "8 bits"), ("jpeg_5", "8 bits, JPEG 5:1"), ("jpeg_10", "8 bits, JPEG 10:1"),
         ("jpeg_20", "8 bits, JPEG 20:1"), ("jitter_1", "clicks moved by up to 1 px"), ("jitter_2", "clicks moved by up to 2 px"))


def variants(data):
    """Per variant: figures of the bar and of all limbs, and how far single limbs of the bar moved."""
    plain = {(r["seed"], r["limb"]): r["mld"] for r in data["rows"]["plain"]["limbs"] if "mld" in r and in_bar(r)}
    out = []
    for key, name in ORDER:
        if key not in data["rows"]:
            continue
        rows = data["rows"][key]["limbs"]
        moved = np.array([r["mld"] - plain[r["seed"], r["limb"]] for r in rows if "mld" in r and (r["seed"], r["limb"]) in plain])
        every = [r for r in rows if clean(r)]
        out.append((key, name, figures([r for r in rows if "mld" in r and in_bar(r)]), figures(every), moved))
    return out


def variants_table(got):
    lines = ["## By bit depth, compression and click jitter",
             "The same limbs of the bar each time; `moved` is against the picture as made, limb by limb. The last column is over all limbs.", "",
             "| variant | limbs | MLD bias / SD, mm | RMS, mm | moved, mm RMS | median moved, mm | interval holds, % | all limbs, % |",
             "|---|---|---|---|---|---|---|---|"]
    for _, name, f, e, moved in got:
        lines.append(f"| {name} | {f['n']} | {f['bias']:+.3f} / {f['sd']:.3f} | {f['rms']:.3f} | {np.sqrt(np.mean(moved ** 2)):.3f} | "
                     f"{np.median(np.abs(moved)):.4f} | {100 * f['hold']:.0f} | {100 * e['hold']:.0f} of {e['n']} |")
    return "\n".join(lines + [""])


def said(b):
    if b.get("watched"):
        return "no bar; inside" if b["met"] else "no bar; outside"
    return "met" if b["met"] else "**missed**"


def bars_table(data):
    lines = ["## Bars", "", "| bar | value | wanted | |", "|---|---|---|---|"]
    for b in data["bars"] + [dict(w, watched=True) for w in data["watched"]]:
        wanted = f"{b['low']:g} to {b['high']:g}" if np.isfinite([b["low"], b["high"]]).all() else \
            f"at most {b['high']:g}" if np.isfinite(b["high"]) else f"at least {b['low']:g}"
        lines.append(f"| {b['bar']} | {'none' if b['value'] is None else format(b['value'], '.3g')} | {wanted} | {said(b)} |")
    return "\n".join(lines + [""])


def whole_table(data):
    s = data["plain"]
    every = s["groups"]["all limbs, no wire"]
    lines = ["## The rest", "", "| quantity | bias / SD | 90 % interval holds, % |", "|---|---|---|"]

    def add(name, d, form, hold):
        lines.append(f"| {name} | {d['bias']:+{form}} / {d['sd']:{form}} | {'-' if hold is None else format(100 * hold, '.0f')} |")
    add("diameter along the limbs, mm", every["points"], ".3f", every["coverage"]["points"])
    add("reference at the minimal diameter, mm", every["reference"], ".3f", every["coverage"]["reference"])
    add("stenosis, points", every["stenosis_points"], ".1f", every["coverage"]["stenosis"])
    add("lesion length (below 90 % of the reference), mm", every["lesion_length"], ".2f", every["coverage"]["lesion_length"])
    add("projected angles, degrees", s["angle"], ".2f", s["angle"]["coverage"])
    add("core diameter, mm", s["core_mm"], ".3f", None)
    lines.append(f"| branch point, mm | {s['branch_point_rms_mm']:.2f} RMS, median {s['branch_point_median_mm']:.2f} | - |")
    agree = s["medina"]["agree"]
    lines.append(f"| Medina more than 5 points from the threshold | {'-' if agree is None else format(100 * agree, '.0f')} % of {s['medina']['n']} right | - |")
    return "\n".join(lines + [""])


# ---------------------------------------------------------------- plots
def plot_error(rows, path):
    figure, pane = plt.subplots(figsize=(6.4, 3.0))
    for chosen, colour, label in (([r for r in rows if clean(r) and not in_bar(r)], SOFT, "other limbs"), ([r for r in rows if "mld" in r and in_bar(r)], LEAD, "limbs of the bar")):
        x, e, sd = (np.array([r[k] for r in chosen]) for k in ("true_mld", "mld_err", "mld_sd"))
        pane.errorbar(x, e, yerr=Z90 * sd, fmt="o", ms=2.5, lw=0.6, color=colour, label=label)
    pane.axhspan(-0.05, 0.05, color="#eeeeee", zorder=0)
    pane.axhline(0, color=INK, lw=0.6)
    pane.set(xlabel="true minimal diameter, mm", ylabel="measured - true, mm", xlim=(0.3, 4.6), ylim=(-0.3, 0.3))
    outside = sum(1 for r in rows if clean(r) and abs(r["mld_err"]) > 0.3)
    pane.legend(frameon=False, loc="upper right", title=f"bars: 90 % intervals; {outside} limbs outside the frame", title_fontsize=7)
    save(figure, path)


def plot_intervals(data, path):
    k = np.linspace(0, 3, 121)
    promised = [math.erf(v / math.sqrt(2)) for v in k]
    figure, pane = plt.subplots(figsize=(3.4, 3.0))
    pane.plot(promised, promised, color=INK, lw=0.6, label="as promised")
    for key, name, colour in (("plain", "as made", LEAD), ("jpeg_10", "8 bits, JPEG 10:1", "#b5651d")):
        if key in data["rows"]:
            z = np.array([abs(r["mld_err"]) / r["mld_sd"] for r in data["rows"][key]["limbs"] if clean(r)])
            pane.plot(promised, [np.mean(z <= v) for v in k], color=colour, lw=1.4, label=f"{name} ({len(z)} limbs)")
    pane.fill_between([0.895, 0.905], 0.86, 0.94, color=SOFT, zorder=0)
    pane.set(xlabel="promised share", ylabel="share of limbs within the interval", xlim=(0, 1), ylim=(0, 1))
    pane.legend(frameon=False, loc="upper left")
    save(figure, path)


def plot_classes(groups, path):
    shown = [(title, got) for title, got in groups if any(f["n"] > 4 for _, f in got)]
    names = []
    for title, got in shown:
        names.append((title, None))
        names += [(f"{name} ({f['n']})", f) for name, f in got if f["n"] > 4]
    figure, pane = plt.subplots(figsize=(6.4, 0.165 * len(names) + 0.6))
    for i, (name, f) in enumerate(names):
        if f is None:
            continue
        pane.errorbar(f["bias"], i, xerr=f["sd"], fmt="o", ms=3, lw=1, color=LEAD)
        pane.text(0.165, i, f"{100 * f['hold']:.0f} %", va="center", ha="right", fontsize=7)
    pane.axvspan(-0.02, 0.02, color="#eeeeee", zorder=0)
    pane.axvline(0, color=INK, lw=0.6)
    pane.set_yticks(range(len(names)), [n for n, _ in names], fontsize=7)
    for label, (_, f) in zip(pane.get_yticklabels(), names):
        label.set_fontweight("bold" if f is None else "normal")
    pane.set_title("bias and SD of the MLD; right: what the 90 % intervals hold", loc="right", fontsize=8)
    pane.set(xlabel="measured - true, mm", xlim=(-0.17, 0.17), ylim=(len(names) - 0.5, -0.8))
    save(figure, path)


def plot_variants(got, path):
    figure, panes = plt.subplots(1, 2, figsize=(6.4, 2.4), sharey=True)
    y = np.arange(len(got))
    panes[0].barh(y, [f["rms"] for _, _, f, _, _ in got], color=LEAD, height=0.6)
    panes[0].axvline(got[0][2]["rms"] + 0.02, color=INK, lw=0.8, ls=":")
    panes[0].set(xlabel="RMS error of the MLD, mm")
    panes[0].set_yticks(y, [name for _, name, _, _, _ in got])
    panes[0].invert_yaxis()
    figure.suptitle("dotted: 0.02 mm more than as made, and 82 %", fontsize=8)
    panes[1].barh(y, [100 * e["hold"] for _, _, _, e, _ in got], color=LEAD, height=0.6)
    panes[1].axvline(82, color=INK, lw=0.8, ls=":")
    panes[1].set(xlabel="90 % intervals hold, %", xlim=(0, 100))
    save(figure, path)


def save(figure, path):
    """As a PNG of 32 colours, which halves it."""
    stream = io.BytesIO()
    figure.savefig(stream, format="png")
    plt.close(figure)
    PIL.Image.open(stream).convert("RGB").quantize(32).save(path, optimize=True)


def main():
    p = argparse.ArgumentParser(description="Tables and plots of the accuracy of `branchkeep measure`.")
    p.add_argument("accuracy")
    p.add_argument("--short", help="result over phantoms whose lesions are 3 mm long")
    p.add_argument("--out", default="docs/methods")
    options = p.parse_args()
    with open(options.accuracy, encoding="ascii") as f:
        data = json.load(f)
    short = []
    if options.short:
        with open(options.short, encoding="ascii") as f:
            short = json.load(f)["rows"]["plain"]["limbs"]
    rows = data["rows"]["plain"]["limbs"]
    seeds = sorted({w["seed"] for w in data["rows"]["plain"]["phantoms"]})
    text = ["# Measured accuracy of the lumen fit",
            f"Made by `validation/tables.sh`: {len(seeds)} phantoms of the second generator (seeds {seeds[0]}-{seeds[-1]}), one view each, "
            f"{data['plain']['answered']} answered. "
            "Errors are measured minus true, the scale of the true depth removed; limbs of the bar have a lesion of 4 mm or longer that "
            "does not begin in the core, no wire, true minimal diameter 0.5-3.5 mm. In brackets: 90 % uncertainty of the share itself. "
            "What a seed draws: `validation/README.md`.", "",
            "![error over true diameter](lumen-error.png) ![intervals](lumen-intervals.png)", "", "![classes](lumen-classes.png)", "",
            "![variants](lumen-variants.png)", "", bars_table(data), whole_table(data)]
    groups = []
    for key, title, note, classes in own_tables(rows, short):
        part, got = table(title, note, classes)
        text.append(part)
        if key not in ("diameter_all", "bits"):
            groups.append((title, got))
    got = variants(data)
    text.append(variants_table(got))
    with open(os.path.join(options.out, "lumen-accuracy.md"), "w", encoding="utf-8") as f:
        f.write("\n".join(text))
    plot_error(rows, os.path.join(options.out, "lumen-error.png"))
    plot_intervals(data, os.path.join(options.out, "lumen-intervals.png"))
    plot_classes(groups, os.path.join(options.out, "lumen-classes.png"))
    plot_variants(got, os.path.join(options.out, "lumen-variants.png"))
    return 0


if __name__ == "__main__":
    sys.exit(main())
