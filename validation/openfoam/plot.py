#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""docs/methods/flow-cfd.png and the figures of docs/methods/flow.md from results.csv. Needs python3-matplotlib."""
import csv
import pathlib

import matplotlib
matplotlib.use("Agg")
import matplotlib.pyplot as plt  # noqa: E402

HERE = pathlib.Path(__file__).resolve().parent
MMHG = 133.322
LARGEST = 0.5 * 100 * MMHG  # FFR 0.5 at 100 mmHg
KINDS = {("main", "far"): ("o", "#1f4e79", "40 diameters behind"), ("main", "near"): ("s", "#c55a11", "10 diameters behind"),
         ("held", "far"): ("^", "#1f4e79", "held out, 40"), ("held", "near"): ("v", "#c55a11", "held out, 10")}


def main():
    with (HERE / "results.csv").open() as f:
        f.readline()
        rows = [(("held" if r["case"].startswith("held-") else "main", r["case"].rsplit("-", 1)[1]), float(r["dp_pa"]),
                 float(r["model_dp_pa"])) for r in csv.DictReader(f)]
    figure, (left, right) = plt.subplots(1, 2, figsize=(8.2, 3.6), dpi=110)
    line = [0.25, 600]
    left.loglog(line, line, color="0.4", lw=0.8)
    for kind, (marker, colour, label) in KINDS.items():
        here = [(a / MMHG, b / MMHG) for k, a, b in rows if k == kind]
        style = {"marker": marker, "ls": "", "ms": 4, "mec": colour, "mfc": colour if kind[0] == "held" else "none", "label": label}
        left.plot(*zip(*here), **style)
        right.semilogx([a for a, _ in here], [100 * (b / a - 1) for a, b in here], **style)
    grid = [line[0] * (line[1] / line[0]) ** (i / 200) for i in range(201)]
    bar = [100 * max(0.1, 1 / a) for a in grid]
    right.fill_between(grid, [-b for b in bar], bar, color="0.9", label="10 % or 1 mmHg")
    for axes in (left, right):
        axes.axvline(LARGEST / MMHG, color="0.6", lw=0.8, ls=":")
        axes.set_xlabel("computed flow, mmHg")
    right.axhline(0, color="0.4", lw=0.8)
    right.set_ylim(-20, 20)
    left.set_ylabel("branchkeep, mmHg")
    right.set_ylabel("difference, %")
    right.legend(fontsize=6.5, loc="lower left")
    left.set_title("drop less healthy Poiseuille", fontsize=9)
    right.set_title("dotted: FFR 0.5 at 100 mmHg", fontsize=9)
    figure.tight_layout()
    figure.savefig(HERE.parents[1] / "docs/methods/flow-cfd.png")
    for kind in KINDS:
        off = [100 * (b / a - 1) for k, a, b in rows if k == kind and a <= LARGEST]
        print(kind, f"{len(off)} drops, mean {sum(off) / len(off):+.1f} %, {min(off):+.1f} to {max(off):+.1f} %")


if __name__ == "__main__":
    main()
