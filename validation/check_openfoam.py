#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Do the stored drops of openfoam/ belong to the script, the grids and the engine of today? TAP output, no solver needed."""
import csv
import hashlib
import os
import pathlib
import sys

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE / "openfoam"))
import stenoses  # noqa: E402

count = failures = 0


def report(ok, what):
    global count, failures
    count += 1
    failures += not ok
    print(f"{'ok' if ok else 'not ok'} {count} - {what}")


def read(name):
    with (HERE / "openfoam" / name).open() as f:
        said = f.readline().split()
        return said[-1], list(csv.DictReader(f))


def main():
    print("TAP version 13")
    digest = hashlib.sha256((HERE / "openfoam/stenoses.py").read_bytes()).hexdigest()
    stored, rows = read("results.csv")
    grids_stored, grids = read("grids.csv")
    report(stored == digest, "results.csv was written by the script that lies beside it")
    report(grids_stored == digest, "and so was grids.csv")
    report(list(rows[0]) == "case d0_mm ds_pct length_mm q_ml_s dp_pa model_dp_pa".split(), "columns")
    cases = stenoses.CASES + stenoses.HELD
    report([r["case"] for r in rows] == [f"{stenoses.name_of(c)}-{p}" for c in cases for p in stenoses.PLANES], "every case once")
    worst = max(abs(float(g["error_28_pct"])) for g in grids if not g["case"].startswith("straight"))
    report(worst < 2, f"main grid within 2 % of what three grids tend to (worst {worst:.2f} %)")
    straight = max(abs(float(g["error_28_pct"])) for g in grids if g["case"].startswith("straight"))
    report(straight < 1, f"straight tube: Poiseuille within 1 % (worst {straight:.2f} %)")
    by_name = {r["case"]: float(r["dp_pa"]) for r in rows}
    off = max(abs(by_name[g["case"]] / float(g["dp_28_pa"]) - 1) for g in grids if g["case"] in by_name)
    report(off < 1e-3, "grids and results hold the same drops")
    tool = os.path.join(os.environ["BK_BUILD"], "validation/limb_tool")
    fresh = [stenoses.ours(tool, c, b) for c in cases for b in stenoses.PLANES.values()]
    report(all(abs(a - float(r["model_dp_pa"])) <= 0.02 + 1e-4 * a for a, r in zip(fresh, rows)), "our drops are the engine's of today")
    print(f"1..{count}")
    return failures > 0


if __name__ == "__main__":
    sys.exit(main())
