#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Reference pressure drops of cosine stenoses: axisymmetric, laminar, steady, on Debian's package `openfoam`.

    /usr/bin/python3 validation/openfoam/stenoses.py --tool build/validation/limb_tool [--work DIR] [--model]

Writes results.csv (drops, ours beside them) and grids.csv (refinement, straight tube), both with the SHA-256 of this file in
their first line. --model keeps the drops (and the hash they were solved under) and works out ours again, without openfoam. Needs python3-numpy and openfoam; one
process, some ten minutes.

A wedge of 2 degrees about the axis. The mesh is a straight block mesh whose points are moved onto the wall, so that every
column has as many cells across the throat as across the vessel. Inlet: parabolic; outlet: pressure; wall: no slip.
Drop: mean static pressure from BEFORE diameters in front of the lesion to a plane behind its end, LESS the Poiseuille loss of
the healthy stretches between; ours is taken over the same tube and less the same. Two planes: `near`, 10 diameters behind,
where recovery is still going on, and `far`, 40 diameters. Cases `held-`: other calibres, looked at only after the engine stood.
"""
import argparse
import csv
import hashlib
import math
import pathlib
import re
import shutil
import subprocess
import sys

import numpy as np

HERE = pathlib.Path(__file__).resolve().parent
RHO, MU = 1050.0, 3.5e-3
# d0 mm, stenosis of the diameter %, length mm, flow ml/s
CASES = [(3.0, ds, length, flow) for ds in (40, 50, 60, 70, 80) for length in (6, 12) for flow in (0.75, 1.5, 3.0)]
HELD = [(2.0, 45, 4, 0.8), (2.5, 55, 10, 1.2), (3.0, 65, 20, 1.5), (3.5, 75, 8, 0.9), (4.0, 65, 20, 2.5)]
REFINED = [(3.0, 50, 12, 3.0), (3.0, 60, 6, 1.5), (3.0, 80, 6, 0.75)]
STRAIGHT = (3.0, 0, 6, 1.5)
ENTRY, BEFORE, EXIT = 4.0, 2.0, 50.0  # diameters: domain before the lesion, plane before it, domain behind it
PLANES = {"near": 10.0, "far": 40.0}  # diameters behind the lesion
ANGLE = math.radians(1.0)             # half of the wedge
ACROSS = 28                           # cells from axis to wall in the main runs
GRIDS = (18, 28, 42)
STEPS = 3000
FOAM = "/usr/share/openfoam/etc/bashrc"

HEAD = "FoamFile {{ version 2.0; format ascii; class {}; object {}; }}\n"


class Shape:
    """A cosine stenosis from 0 to length [m] and the flow through it [m3/s]."""

    def __init__(self, d0_mm, ds_pct, length_mm, q_ml_s):
        self.d0, self.ds = d0_mm * 1e-3, d0_mm * (1 - ds_pct / 100) * 1e-3
        self.length, self.flow = length_mm * 1e-3, q_ml_s * 1e-6

    def diameter(self, x):
        inside = (x > 0) & (x < self.length)
        return np.where(inside, self.d0 - (self.d0 - self.ds) * (1 - np.cos(2 * np.pi * x / self.length)) / 2, self.d0)

    def poiseuille(self, behind):
        """Of the healthy stretches up to a plane this many diameters behind the lesion [Pa]."""
        return 128 * MU * (BEFORE + behind) * self.d0 * self.flow / (math.pi * self.d0 ** 4)


def stations(shape, across):
    """Axial stations: fine in the lesion and behind it, growing into the healthy tube."""
    step = min(shape.length / 60, shape.ds / 6) * ACROSS / across
    inside = np.linspace(0, shape.length, max(60 * across // ACROSS, round(shape.length / step)) + 1)
    first, ratio = inside[1], 1 + 0.03 * ACROSS / across

    def grown(span):
        largest = 0.5 * shape.d0 * ACROSS / across
        x = [0.0]
        while x[-1] < span:
            x.append(x[-1] + min(largest, first * ratio ** len(x)))
        return np.array(x) * span / x[-1]
    return np.concatenate([-grown(ENTRY * shape.d0)[::-1], inside[1:], shape.length + grown(EXIT * shape.d0)[1:]])


def put(path, kind, text):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(HEAD.format(kind, path.name) + text)


def foam(work, command):
    log = work / (command.split()[0] + ".log")
    with log.open("w") as out:
        done = subprocess.run(["bash", "-c", f"source {FOAM} >/dev/null 2>&1; exec nice -n 15 {command}"], cwd=work, stdout=out,
                              stderr=subprocess.STDOUT, check=False)
    if done.returncode:
        sys.exit(f"stenoses.py: {command} failed, see {log}")
    return log.read_text()


def mesh(work, shape, across):
    """blockMesh of a straight wedge in units of cells, its points then moved onto the shape."""
    x = stations(shape, across)
    n = len(x) - 1
    put(work / "system/blockMeshDict", "dictionary", f"""
scale 1;
vertices ((0 0 0) ({n} 0 0) ({n} {across} -1) (0 {across} -1) (0 {across} 1) ({n} {across} 1));
blocks (hex (0 1 2 3 0 1 5 4) ({n} {across} 1) simpleGrading (1 1 1));
edges ();
boundary (
  axis {{ type empty; faces ((0 1 1 0)); }}
  inlet {{ type patch; faces ((0 3 4 0)); }}
  outlet {{ type patch; faces ((1 2 5 1)); }}
  wall {{ type wall; faces ((3 2 5 4)); }}
  back {{ type wedge; faces ((0 1 2 3)); }}
  front {{ type wedge; faces ((0 1 5 4)); }}
);""")
    control(work, 1)
    foam(work, "blockMesh")
    path = work / "constant/polyMesh/points"
    text = path.read_text()
    points = np.array([[float(v) for v in p.split()] for p in re.findall(r"^\(([^()]+)\)$", text, re.M)])
    at = x[np.rint(points[:, 0]).astype(int)]
    radius = points[:, 1] / across * shape.diameter(at) / 2
    side = np.sign(np.where(points[:, 1] > 0, points[:, 2], 0))
    moved = np.stack([at, radius * math.cos(ANGLE), side * radius * math.sin(ANGLE)], axis=1)
    path.write_text(text[:text.index("(", text.index("points;"))] + "(\n" +
                    "\n".join(f"({a:.17g} {b:.17g} {c:.17g})" for a, b, c in moved) + "\n)\n")
    return x


def control(work, steps):
    put(work / "system/controlDict", "dictionary", f"""
application simpleFoam; startFrom startTime; startTime 0; stopAt endTime; endTime {steps}; deltaT 1;
writeControl timeStep; writeInterval {steps}; purgeWrite 1; writeFormat ascii; writePrecision 12; runTimeModifiable false;""")
    put(work / "system/fvSchemes", "dictionary", """
ddtSchemes { default steadyState; }
gradSchemes { default Gauss linear; }
divSchemes { default none; div(phi,U) bounded Gauss linearUpwind grad(U); div((nuEff*dev2(T(grad(U))))) Gauss linear; }
laplacianSchemes { default Gauss linear corrected; }
interpolationSchemes { default linear; }
snGradSchemes { default corrected; }""")
    put(work / "system/fvSolution", "dictionary", """
solvers {
  p { solver PCG; preconditioner DIC; tolerance 1e-12; relTol 0.02; }
  U { solver smoothSolver; smoother symGaussSeidel; tolerance 1e-13; relTol 0.05; }
}
SIMPLE { nNonOrthogonalCorrectors 0; consistent yes; residualControl { p 1e-8; } }
relaxationFactors { equations { U 0.9; } }""")


def fields(work, shape, across):
    velocity = shape.flow / (math.pi * shape.d0 ** 2 / 4)
    middle = (np.arange(across) + 0.5) / across
    profile = 1 - middle ** 2
    ring = 2 * np.arange(across) + 1
    profile *= velocity / np.average(profile, weights=ring)
    inlet = f"nonuniform List<vector> {across}\n(" + " ".join(f"({u:.12g} 0 0)" for u in profile) + ")"
    sides = "axis { type empty; } back { type wedge; } front { type wedge; }"
    put(work / "0/U", "volVectorField", f"""
dimensions [0 1 -1 0 0 0 0]; internalField uniform ({velocity} 0 0);
boundaryField {{ inlet {{ type fixedValue; value {inlet}; }} outlet {{ type zeroGradient; }} wall {{ type noSlip; }} {sides} }}""")
    put(work / "0/p", "volScalarField", f"""
dimensions [0 2 -2 0 0 0 0]; internalField uniform 0;
boundaryField {{ inlet {{ type zeroGradient; }} outlet {{ type fixedValue; value uniform 0; }} wall {{ type zeroGradient; }} {sides} }}""")
    put(work / "constant/transportProperties", "dictionary", f"transportModel Newtonian; nu {MU / RHO:.12g};")
    put(work / "constant/turbulenceProperties", "dictionary", "simulationType laminar;")


def pressures(work, x, across):
    """Middles of the columns and the mean static pressure of each [Pa]."""
    last = max((p for p in work.iterdir() if p.name.isdigit() and p.name != "0"), key=lambda p: int(p.name))
    text = (last / "p").read_text()
    start = text.index("(", text.index("internalField"))
    p = RHO * np.array(text[start + 1:text.index(")", start)].split(), float).reshape(across, len(x) - 1)
    return (x[1:] + x[:-1]) / 2, np.average(p, axis=0, weights=2 * np.arange(across) + 1)


def solve(work, case, across=ACROSS):
    """Net drops by plane [Pa] of a converged run."""
    shape = Shape(*case)
    shutil.rmtree(work, ignore_errors=True)  # pressures() takes the last step it finds
    x = mesh(work, shape, across)
    fields(work, shape, across)
    control(work, STEPS)
    if "SIMPLE solution converged" not in foam(work, "simpleFoam"):
        sys.exit(f"stenoses.py: {case} did not converge in {STEPS} steps, see {work}")
    middle, p = pressures(work, x, across)
    at = [np.interp(where, middle, p) for where in (-BEFORE * shape.d0, *(shape.length + b * shape.d0 for b in PLANES.values()))]
    return {name: at[0] - after - shape.poiseuille(b) for (name, b), after in zip(PLANES.items(), at[1:])}


def ours(tool, case, behind):
    """The engine's loss over the same tube, less the same Poiseuille [Pa]."""
    shape = Shape(*case)
    x = np.concatenate([[-BEFORE * shape.d0], np.linspace(0, shape.length, 61), [shape.length + behind * shape.d0]])
    text = f"{RHO} {MU} {shape.flow:.17g} {len(x)}\n" + "".join(
        f"{a:.17g} {d:.17g} {shape.d0:.17g}\n" for a, d in zip(x, shape.diameter(x)))
    out = subprocess.run([tool], input=text, capture_output=True, text=True, check=True).stdout
    return float(out) - shape.poiseuille(behind)


def name_of(case):
    return f"{'held-' if case in HELD else ''}d{case[0]}-ds{case[1]}-l{case[2]}-q{case[3]}"


def table(name, columns, rows, digest):
    with (HERE / name).open("w", newline="") as f:
        f.write(f"# stenoses.py sha256 {digest}\n")
        writer = csv.writer(f, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(rows)


def kept():
    """Drops of the results.csv that is there, by case, and the hash of the script that solved them."""
    with (HERE / "results.csv").open() as f:
        digest = f.readline().split()[-1]
        return {row["case"]: float(row["dp_pa"]) for row in csv.DictReader(f)}, digest


def refine(work):
    """Three grids, what they tend to (second order), and how far the main grid is from it; the straight tube."""
    for case in REFINED:
        runs = [solve(work / f"{name_of(case)}-{n}", case, n) for n in GRIDS]
        for plane in PLANES:
            v = [run[plane] for run in runs]
            limit = v[2] + (v[2] - v[1]) / ((GRIDS[2] / GRIDS[1]) ** 2 - 1)
            yield [f"{name_of(case)}-{plane}", *(f"{x:.2f}" for x in v), f"{limit:.2f}", f"{100 * (v[1] / limit - 1):.2f}"]
    for plane, net in solve(work / "straight", STRAIGHT).items():  # nothing is left but the error
        loss = Shape(*STRAIGHT).poiseuille(PLANES[plane]) + 128 * MU * 6e-3 * 1.5e-6 / (math.pi * 3e-3 ** 4)
        net += Shape(*STRAIGHT).poiseuille(PLANES[plane])
        yield [f"straight-{plane}", "", f"{net:.2f}", "", f"{loss:.2f}", f"{100 * (net / loss - 1):.2f}"]


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--tool", required=True, help="build/validation/limb_tool")
    parser.add_argument("--work", type=pathlib.Path, default=pathlib.Path("build/openfoam"))
    parser.add_argument("--model", action="store_true", help="keep the drops")
    args = parser.parse_args()
    drops, digest = kept() if args.model else ({}, hashlib.sha256(pathlib.Path(__file__).read_bytes()).hexdigest())
    rows = []
    for case in CASES + HELD:
        if not args.model:
            drops.update({f"{name_of(case)}-{plane}": dp for plane, dp in solve(args.work / name_of(case), case).items()})
        for plane, behind in PLANES.items():
            name = f"{name_of(case)}-{plane}"
            rows.append([name, *case, f"{drops[name]:.2f}", f"{ours(args.tool, case, behind):.2f}"])
            print(*rows[-1], flush=True)
    table("results.csv", "case,d0_mm,ds_pct,length_mm,q_ml_s,dp_pa,model_dp_pa".split(","), rows, digest)
    if not args.model:
        table("grids.csv", ["case", *(f"dp_{n}_pa" for n in GRIDS), "limit_pa", f"error_{ACROSS}_pct"], refine(args.work), digest)


if __name__ == "__main__":
    main()
