#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""SD between neighbouring frames, over a stretch of a real run.

The clicks of one frame are carried through the frames FIRST to LAST by `measure --repeat 3`, a frame at a time; then each of these frames
is measured with `--repeat N` from its own carried clicks. Printed for each: SD of MLD / reference of each limb [mm], in brackets how many
frames count; a star where one is above 0.12 mm. The tables of docs/methods/repeat.md were made with it.

neighbours.py FILE.dcm FRAME PROXIMAL DISTAL SIDE FIRST LAST [--mm-per-px V] [--repeat N] [--branchkeep PROGRAM]
"""
import argparse
import json
import subprocess
import sys

LIMBS = ("proximal", "distal", "side")
BAR_MM = 0.12


def measure(options, frame, clicks, repeat):
    command = [options.branchkeep, "measure", options.file, "--frame", str(frame), "--mm-per-px", options.mm_per_px, "--repeat", str(repeat)]
    for limb in LIMBS:
        command += ["--" + limb, "%.2f,%.2f" % tuple(clicks[limb])]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        print(frame, done.stderr.strip(), file=sys.stderr)
        return None
    return json.loads(done.stdout)


def carry(options, clicks):
    """Clicks of every frame that they could be carried to, from that of options.frame."""
    known = {options.frame: clicks}
    for step in (1, -1):
        frame = options.frame
        while options.first <= frame + step <= options.last and frame in known:
            answer = measure(options, frame, known[frame], 3)
            for row in answer["repeats"] if answer else []:
                if row["frame"] == frame + step and row["clicks_px"]:
                    known.setdefault(frame + step, row["clicks_px"])
            frame += step
    return known


def text(sd):
    return "-" if sd is None else "%.3f%s" % (sd, "*" if sd > BAR_MM else "")


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("file")
    p.add_argument("frame", type=int)
    for limb in LIMBS:
        p.add_argument(limb, help="X,Y")
    p.add_argument("first", type=int)
    p.add_argument("last", type=int)
    p.add_argument("--mm-per-px", default="0.28")
    p.add_argument("--repeat", type=int, default=5)
    p.add_argument("--branchkeep", default="build/branchkeep")
    options = p.parse_args()
    known = carry(options, {limb: [float(v) for v in getattr(options, limb).split(",")] for limb in LIMBS})
    for frame in sorted(known):
        answer = measure(options, frame, known[frame], options.repeat)
        if answer:
            means = answer["repeat_mean"]["segments"]
            print(frame, "  ".join("%s %s / %s (%d)" % (limb, text(s["mld_mm"]["sd"]), text(s["reference_mm"]["sd"]), s["mld_mm"]["n"])
                                   for limb, s in means.items()))


if __name__ == "__main__":
    main()
