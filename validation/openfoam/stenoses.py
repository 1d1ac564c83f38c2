#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Reference pressure drops of cosine stenoses: axisymmetric, laminar, steady, on Debian's package `openfoam`.

    /usr/bin/python3 validation/openfoam/stenoses.py --tool build/validation/limb_tool [--work DIR] [--only CASE]

Writes results.csv (drops, ours beside them), grids.csv (refinement, straight tube) and the SHA-256 of this file as a comment
into both. Needs python3-numpy and openfoam; one process, about a quarter of an hour.

A wedge of 2 degrees about the axis. The mesh is a straight block mesh whose points are moved onto the wall, so that every
column has as many cells across the throat as across the vessel. Inlet: parabolic; outlet: pressure; wall: no slip.
Drop: mean static pressure from BEFORE diameters in front of the lesion to a plane behind its end, LESS the Poiseuille loss of
the healthy stretches between; ours is taken over the same tube and less the same. Two planes: `near`, 10 diameters behind,
where recovery may still be going on, and `far`, 40 diameters.
"""
import argparse
import csv
import hashlib
import math
import pathlib
import re
import subprocess
import sys

import numpy as np

HERE = pathlib.Path(__file__).resolve().parent
RHO, MU = 1050.0, 3.5e-3
D0 = 3.0e-3
DS_PCT, LENGTHS_MM, FLOWS_ML_S = (40, 50, 60, 70, 80), (6, 12), (0.75, 1.5, 3.0)
ENTRY, BEFORE, EXIT = 4.0, 2.0, 50.0  # diameters: domain before the lesion, plane before it, domain behind it
PLANES = {"near": 10.0, "far": 40.0}  # diameters behind the lesion
ANGLE = math.radians(1.0)             # half of the wedge
ACROSS = 28                           # cells from axis to wall in the main runs
GRIDS = (18, 28, 42)
FOAM = "/usr/share/openfoam/etc/bashrc"

HEAD = "FoamFile {{ version 2.0; format ascii; class {}; object {}; }}\n"


class Shape:
    """A cosine stenosis from 0 to length; ds 1 is a straight tube."""

    def __init__(self, ds_pct, length_mm):
        self.ds, self.length = D0 * (1 - ds_pct / 100), length_mm * 1e-3

    def diameter(self, x):
        inside = (x > 0) & (x < self.length)
        return np.where(inside, D0 - (D0 - self.ds) * (1 - np.cos(2 * np.pi * x / self.length)) / 2, D0)


def stations(shape, across):
    """Axial stations: fine in the lesion and behind it, growing into the healthy tube."""
    step = min(shape.length / 60, shape.ds / 6) * ACROSS / across
    inside = np.linspace(0, shape.length, max(60 * across // ACROSS, round(shape.length / step)) + 1)
    first, ratio = inside[1], 1 + 0.03 * ACROSS / across

    def grown(span):
        largest = 0.5 * D0 * ACROSS / across
        x = [0.0]
        while x[-1] < span:
            x.append(x[-1] + min(largest, first * ratio ** len(x)))
        return np.array(x) * span / x[-1]
    return np.concatenate([-grown(ENTRY * D0)[::-1], inside[1:], shape.length + grown(EXIT * D0)[1:]])


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


def fields(work, across, flow):
    velocity = flow / (math.pi * D0 ** 2 / 4)
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


def poiseuille(length, flow):
    return 128 * MU * length * flow / (math.pi * D0 ** 4)


def solve(work, shape, across, flow, steps=3000):
    """Net drops by plane [Pa], and whether the residuals came down."""
    x = mesh(work, shape, across)
    fields(work, across, flow)
    control(work, steps)
    log = foam(work, "simpleFoam")
    middle, p = pressures(work, x, across)
    drops = {}
    for name, behind in PLANES.items():
        from_p, to_p = np.interp([-BEFORE * D0, shape.length + behind * D0], middle, p)
        drops[name] = from_p - to_p - poiseuille((BEFORE + behind) * D0, flow)
    return drops, "SIMPLE solution converged" in log, (middle, p)


def ours(tool, shape, behind, flow):
    """The engine's loss over the same tube, less the same Poiseuille [Pa]."""
    x = np.concatenate([[-BEFORE * D0], np.linspace(0, shape.length, 201), [shape.length + behind * D0]])
    text = f"{RHO} {MU} {flow:.17g} {len(x)}\n" + "\n".join(f"{a:.17g} {b:.17g} {D0:.17g}" for a, b in zip(x, shape.diameter(x)))
    out = subprocess.run([tool], input=text, capture_output=True, text=True, check=True).stdout
    return float(out) - poiseuille((BEFORE + behind) * D0, flow)


def table(path, columns, rows):
    digest = hashlib.sha256(pathlib.Path(__file__).read_bytes()).hexdigest()
    with path.open("w", newline="") as f:
        f.write(f"# stenoses.py sha256 {digest}\n")
        writer = csv.writer(f, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(rows)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--tool", required=True, help="build/validation/limb_tool")
    parser.add_argument("--work", type=pathlib.Path, default=pathlib.Path("build/openfoam"))
    parser.add_argument("--only", help="run one case and print it")
    args = parser.parse_args()
    cases = [(ds, length, flow) for ds in DS_PCT for length in LENGTHS_MM for flow in FLOWS_ML_S]
    for ds, length, flow in cases:
        name = f"ds{ds}-l{length}-q{flow}"
        if args.only and args.only != name:
            continue
        drops, good, _ = solve(args.work / name, Shape(ds, length), ACROSS, flow * 1e-6)
        print(name, {k: round(v, 1) for k, v in drops.items()}, good, flush=True)


if __name__ == "__main__":
    main()
